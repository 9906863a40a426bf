/* Loaded before the C library (LD_PRELOAD): counts allocations and makes chosen ones fail.
 *
 * TAILVOLT_FAIL_AT=N fails the Nth allocation since the program began, TAILVOLT_FAIL_FROM=N that one and all that follow,
 * TAILVOLT_FAIL_TRACE shows on standard error who asked for it; the count goes to the file TAILVOLT_ALLOCATIONS. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <execinfo.h>
#include <fcntl.h>
#include <malloc.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *block, size_t size);
extern void *__libc_memalign(size_t alignment, size_t size);

static atomic_long asked;
static long fail_at, fail_from;
static bool counting, trace;
static char count_path[4096];

static long number(const char *name) {
  const char *text = getenv(name);
  return text != NULL ? strtol(text, NULL, 10) : 0;
}

__attribute__((constructor)) static void begin(void) {
  void *place[1];
  const char *path = getenv("TAILVOLT_ALLOCATIONS");
  fail_at = number("TAILVOLT_FAIL_AT");
  fail_from = number("TAILVOLT_FAIL_FROM");
  trace = getenv("TAILVOLT_FAIL_TRACE") != NULL;
  if (path != NULL && strlen(path) < sizeof count_path) memcpy(count_path, path, strlen(path) + 1);
  if (trace) (void)backtrace(place, 1); /* it allocates once */
  unsetenv("LD_PRELOAD");               /* programs that it starts keep their memory */
  counting = true;
}

__attribute__((destructor)) static void end(void) {
  char digits[24];
  size_t at = sizeof digits;
  counting = false;
  if (count_path[0] == '\0') return;
  int file = open(count_path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
  for (long left = asked; at == sizeof digits || left > 0; left /= 10) digits[--at] = (char)('0' + left % 10);
  if (file >= 0 && write(file, digits + at, sizeof digits - at) < 0) _exit(99);
  if (file >= 0) close(file);
}

/* What a build adds behind the end of main (counts of coverage) is not what is tried. */
typedef int main_function(int, char **, char **);
typedef int starter(main_function *, int, char **, void (*)(void), void (*)(void), void (*)(void), void *);
static main_function *tried;

static int main_alone(int count, char **words, char **environment) {
  int code = tried(count, words, environment);
  counting = false;
  return code;
}

int __libc_start_main(main_function *program, int count, char **words, void (*first)(void), void (*last)(void),
                      void (*unload)(void), void *stack_end) {
  bool counted = counting;
  counting = false;
  starter *start;
  void *found = dlsym(RTLD_NEXT, "__libc_start_main");
  memcpy(&start, &found, sizeof start);
  counting = counted;
  tried = program;
  return start(main_alone, count, words, first, last, unload, stack_end);
}

static bool fails(void) {
  if (!counting) return false;
  long this = atomic_fetch_add(&asked, 1) + 1;
  if (this != fail_at && (fail_from == 0 || this < fail_from)) return false;
  if (trace && (this == fail_at || this == fail_from)) {
    void *places[40];
    counting = false;
    backtrace_symbols_fd(places, backtrace(places, 40), STDERR_FILENO);
    counting = true;
  }
  errno = ENOMEM;
  return true;
}

void *malloc(size_t size) { return fails() ? NULL : __libc_malloc(size); }
void *calloc(size_t count, size_t size) { return fails() ? NULL : __libc_calloc(count, size); }
void *realloc(void *block, size_t size) { return fails() ? NULL : __libc_realloc(block, size); }
void *memalign(size_t alignment, size_t size) { return fails() ? NULL : __libc_memalign(alignment, size); }
void *aligned_alloc(size_t alignment, size_t size) { return fails() ? NULL : __libc_memalign(alignment, size); }
int posix_memalign(void **out, size_t alignment, size_t size) {
  void *block = fails() ? NULL : __libc_memalign(alignment, size);
  if (block == NULL) return ENOMEM;
  *out = block;
  return 0;
}
