/* Bytes as a file of this process, for what is read by its name. */
#ifndef FUZZ_AS_FILE_H
#define FUZZ_AS_FILE_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

/* Its path; unlink() it afterwards. */
static const char *as_file(const uint8_t *data, size_t size) {
  static char path[128];
  if (path[0] == '\0') {
    const char *where = getenv("TMPDIR");
    snprintf(path, sizeof path, "%s/tailvolt-fuzz-%ld", where != NULL ? where : "/tmp", (long)getpid());
  }
  FILE *file = fopen(path, "wb");
  if (file == NULL) abort();
  if (size > 0 && fwrite(data, 1, size, file) != size) abort();
  fclose(file);
  return path;
}

#endif
