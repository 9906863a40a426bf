#include "input/path.h"

#include <stdlib.h>
#include <string.h>

char *tv_beside(const char *system_file, const char *path) {
  const char *slash = strrchr(system_file, '/');
  size_t folder = slash != NULL && path[0] != '/' ? (size_t)(slash - system_file) + 1 : 0;
  size_t length = strlen(path);
  char *joined = malloc(folder + length + 1);
  if (joined == NULL) return NULL;
  memcpy(joined, system_file, folder);
  memcpy(joined + folder, path, length + 1);
  return joined;
}
