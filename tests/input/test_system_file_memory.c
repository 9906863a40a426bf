/* Out of memory at any allocation: the reader says so, returns nothing and leaks nothing. */
#include "input/system_edit.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"
#include "support/own_allocator.h"

#if OWN_ALLOCATOR
/* The C library's allocator behind a counter: call number `fail_at` and all later ones fail. */
static struct {
  long calls, fail_at, alive;
  bool on;
} counter;

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *block, size_t size);
void __libc_free(void *block);

static bool refused(void) {
  return counter.on && ++counter.calls >= counter.fail_at;
}

static void *counted(void *block) {
  if (counter.on && block != NULL) counter.alive++;
  return block;
}

void *malloc(size_t size) {
  return refused() ? NULL : counted(__libc_malloc(size));
}
void *calloc(size_t count, size_t size) {
  return refused() ? NULL : counted(__libc_calloc(count, size));
}
void *realloc(void *block, size_t size) {
  if (refused()) return NULL;
  void *moved = __libc_realloc(block, size);
  if (counter.on && block == NULL && moved != NULL) counter.alive++;
  return moved;
}
void free(void *block) {
  if (counter.on && block != NULL) counter.alive--;
  __libc_free(block);
}
#endif

static struct tailvolt_faults faults;

static char *read_text(const char *name) {
  char path[512];
  snprintf(path, sizeof path, "%s/examples/reference/%s", TAILVOLT_SOURCE_DIR, name);
  FILE *stream = fopen(path, "rb");
  assert_non_null(stream);
  char *text = malloc(16384);
  assert_non_null(text);
  text[fread(text, 1, 16383, stream)] = '\0';
  fclose(stream);
  return text;
}

#if OWN_ALLOCATOR
static void every_allocation(const char *text, const struct tailvolt_setting *settings, int count) {
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  long tried = 0;
  for (long n = 1; status != TAILVOLT_OK; n++) {
    struct tailvolt_system *system = NULL;
    counter.calls = counter.alive = 0;
    counter.fail_at = n;
    counter.on = true;
    status = tailvolt_system_parse(text, "job.ini", settings, count, &system, &faults);
    if (status == TAILVOLT_OK) tailvolt_system_free(system);
    counter.on = false;
    if (status != TAILVOLT_OK && status != TAILVOLT_NO_MEMORY)
      fail_msg("allocation %ld: status %d, %s", n, (int)status, faults.fault[0].message);
    if (status != TAILVOLT_OK) assert_null(system);
    if (counter.alive != 0) fail_msg("allocation %ld: %ld blocks lost", n, counter.alive);
    tried = n;
  }
  print_message("%ld allocations\n", tried - 1);
  assert_true(tried > 50);
}

static void every_allocation_of_an_edit(const char *text, const struct tailvolt_setting *settings,
                                        int count) {
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  for (long n = 1; status != TAILVOLT_OK; n++) {
    char *out = NULL;
    counter.calls = counter.alive = 0;
    counter.fail_at = n;
    counter.on = true;
    status = tv_system_write_with(text, settings, count, &out);
    free(out);
    counter.on = false;
    assert_true(status == TAILVOLT_OK || status == TAILVOLT_NO_MEMORY);
    if (counter.alive != 0) fail_msg("allocation %ld: %ld blocks lost", n, counter.alive);
  }
}
#endif

static void out_of_memory(void **state) {
  (void)state;
#if OWN_ALLOCATOR
  const struct tailvolt_setting settings[] = {{"capacitor stiffener.capacitance = 2 F"},
                                              {"vehicle.ambient = 5 C"},
                                              {"battery second.positive = second plus"},
                                              {"battery second.capacity = 60 Ah"}};
  char *text = read_text("ten-line.ini");
  every_allocation(text, settings, 2);
  every_allocation_of_an_edit(text, settings, 4);
  free(text);
  text = read_text("all-of-it.ini");
  every_allocation(text, settings, 2);
  free(text);
#else
  (void)read_text;
  (void)faults;
  print_message("the sanitizer keeps its own allocator\n");
  skip();
#endif
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(out_of_memory)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
