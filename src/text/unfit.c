#include "text/unfit.h"

#ifdef __wasi__ /* WebAssembly: files are those that the page was given */

#include <stddef.h>

const char *tv_unfit(const char *path, bool again) {
  (void)path;
  (void)again;
  return NULL;
}

#else

#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static bool is_terminal(const char *path) {
  int file = open(path, O_RDONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  bool terminal = file >= 0 && isatty(file) == 1;
  if (file >= 0) close(file);
  return terminal;
}

static bool is_null(const struct stat *about) {
  struct stat null;
  return stat("/dev/null", &null) == 0 && S_ISCHR(null.st_mode) && null.st_rdev == about->st_rdev;
}

const char *tv_unfit(const char *path, bool again) {
  struct stat about;
  if (strcmp(path, "-") == 0 || stat(path, &about) != 0) return NULL; /* opening it says what is wrong */
  if (S_ISFIFO(about.st_mode)) return again ? "is a pipe: give it as a file, it is read more than once" : NULL;
  if (S_ISSOCK(about.st_mode)) return "is a socket, not a file";
  if (S_ISBLK(about.st_mode)) return "is a device, not a file";
  if (!S_ISCHR(about.st_mode) || is_null(&about)) return NULL;
  if (!is_terminal(path)) return "is a device, not a file";
  return again ? "is a terminal: give it as a file, it is read more than once" : NULL;
}

#endif
