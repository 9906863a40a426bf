/* Loaded before the C library (LD_PRELOAD): counts allocations and makes chosen ones fail.
 *
 * TAILVOLT_FAIL_AT=N fails the Nth allocation since the program began, TAILVOLT_FAIL_FROM=N that one and all that follow,
 * TAILVOLT_FAIL_TRACE shows on standard error who asked for it. The file TAILVOLT_ALLOCATIONS gets a line for every allocation that is
 * the first to come through some call: its number, and each such call as a number that is the same in every run. Its last line is
 * the count of all. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <execinfo.h>
#include <fcntl.h>
#include <link.h>
#include <malloc.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *block, size_t size);
extern void *__libc_memalign(size_t alignment, size_t size);

enum { DEEPEST = 64, CALLS = 1 << 14, WAYS = 1 << 16, NEAR = 128 };

static atomic_long asked;
static void *call[CALLS]; /* those seen, by their return addresses; NULL = free */
static uint64_t way[WAYS];  /* those seen; 0 = free */
static uintptr_t text_begin, text_end; /* of the program */
static int count_file = -1;
static long fail_at, fail_from;
static bool counting, trace;

static long number(const char *name) {
  const char *text = getenv(name);
  return text != NULL ? strtol(text, NULL, 10) : 0;
}

static int find_text(struct dl_phdr_info *program, size_t size, void *unused) {
  (void)size, (void)unused;
  for (int k = 0; k < program->dlpi_phnum; k++) {
    const ElfW(Phdr) *part = &program->dlpi_phdr[k];
    if (part->p_type != PT_LOAD || (part->p_flags & PF_X) == 0) continue;
    text_begin = program->dlpi_addr + part->p_vaddr;
    text_end = text_begin + part->p_memsz;
  }
  return 1; /* the first is the program */
}

__attribute__((constructor)) static void begin(void) {
  void *place[1];
  const char *path = getenv("TAILVOLT_ALLOCATIONS");
  fail_at = number("TAILVOLT_FAIL_AT");
  fail_from = number("TAILVOLT_FAIL_FROM");
  trace = getenv("TAILVOLT_FAIL_TRACE") != NULL;
  if (path != NULL) count_file = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
  (void)backtrace(place, 1); /* it allocates once */
  dl_iterate_phdr(find_text, NULL);
  unsetenv("LD_PRELOAD");                           /* programs that it starts keep their memory */
  counting = true;
}

struct line {
  char text[32 + DEEPEST * 24];
  size_t length;
};

static void put(struct line *line, uint64_t value) {
  char digits[24];
  size_t at = sizeof digits;
  do digits[--at] = (char)('0' + value % 10);
  while ((value /= 10) > 0);
  if (line->length > 0) line->text[line->length++] = ' ';
  memcpy(line->text + line->length, digits + at, sizeof digits - at);
  line->length += sizeof digits - at;
}

static void tell(struct line *line) {
  line->text[line->length++] = '\n';
  if (write(count_file, line->text, line->length) < 0) _exit(99);
}

__attribute__((destructor)) static void end(void) {
  struct line line = {.length = 0};
  counting = false;
  if (count_file < 0) return;
  put(&line, (uint64_t)asked);
  tell(&line);
  close(count_file);
}

static bool is_new(void *address) {
  for (size_t k = 0; k < CALLS; k++) {
    void **place = &call[((uintptr_t)address / 4 + k) % CALLS];
    if (*place == address) return false;
    if (*place != NULL) continue;
    *place = address;
    return true;
  }
  return false;
}

/* Where it is in its file, wherever that was loaded to. */
static uint64_t name_of(void *address) {
  Dl_info about;
  uint64_t hash = 0;
  if (dladdr(address, &about) == 0) return (uintptr_t)address;
  for (const char *c = about.dli_fname; *c != '\0'; c++) hash = hash * 31 + (unsigned char)*c;
  return (hash << 32) + ((uintptr_t)address - (uintptr_t)about.dli_fbase);
}

/* Only a glance, for a walk up the stack takes its time: how deep it is, and what of the nearest words may be return addresses. */
static bool is_new_way(void) {
  const uintptr_t *word = __builtin_frame_address(0);
  uint64_t hash = (uintptr_t)word;
  for (int k = 0; k < NEAR; k++)
    if (word[k] >= text_begin && word[k] < text_end) hash = (hash ^ word[k]) * 0x9e3779b97f4a7c15u;
  for (size_t k = 0; k < WAYS; k++) {
    uint64_t *place = &way[((hash >> 40) + k) % WAYS];
    if (*place == hash) return false;
    if (*place != 0) continue;
    *place = hash;
    return true;
  }
  return true;
}

/* A line, where it comes through a call that no allocation before came through. */
static void note(long n) {
  void *through[DEEPEST];
  struct line line = {.length = 0};
  int calls = backtrace(through, DEEPEST);
  put(&line, (uint64_t)n);
  size_t bare = line.length;
  for (int k = 0; k < calls; k++)
    if (is_new(through[k])) put(&line, name_of(through[k]));
  if (line.length > bare) tell(&line);
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

/* Decoders do not survive it: the program asks for their room before, and gives it back. */
static bool is_decoder(void) {
  void *through[DEEPEST];
  Dl_info about;
  counting = false;
  int calls = backtrace(through, DEEPEST), k = 0;
  while (k < calls && (dladdr(through[k], &about) == 0 || strstr(about.dli_fname, "libsndfile") == NULL)) k++;
  counting = true;
  return k < calls;
}

static bool fails(void) {
  if (!counting) return false;
  long this = atomic_fetch_add(&asked, 1) + 1;
  if (count_file >= 0 && is_new_way()) {
    counting = false;
    note(this);
    counting = true;
  }
  if ((this != fail_at && (fail_from == 0 || this < fail_from)) || is_decoder()) return false;
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
