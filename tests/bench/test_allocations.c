/* Between its first and its last step a run allocates nothing.
 *
 * This program defines malloc, calloc, realloc and aligned_alloc itself and counts calls: the library's, and those
 * of other libraries on its behalf. The record shows when the first and the last step are. Each system is first seen
 * to do what it is here for, so the count covers that. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"
#include "support/scenes.h"

#if defined(__SANITIZE_ADDRESS__) || !defined(__GLIBC__)
#define COUNTS 0 /* a sanitizer has its own; elsewhere these names cannot be replaced */
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define COUNTS 0
#endif
#endif
#ifndef COUNTS
#define COUNTS 1
#endif

static volatile long calls; /* volatile: a compiler that knows malloc would keep it in a register across calls */

#if COUNTS
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *block, size_t size);
void *__libc_memalign(size_t alignment, size_t size);

void *malloc(size_t size) {
  calls = calls + 1;
  return __libc_malloc(size);
}

void *calloc(size_t count, size_t size) {
  calls = calls + 1;
  return __libc_calloc(count, size);
}

void *realloc(void *block, size_t size) {
  calls = calls + 1;
  return __libc_realloc(block, size);
}

void *aligned_alloc(size_t alignment, size_t size) {
  calls = calls + 1;
  return __libc_memalign(alignment, size);
}

int posix_memalign(void **block, size_t alignment, size_t size) {
  calls = calls + 1;
  *block = __libc_memalign(alignment, size);
  return *block == NULL ? ENOMEM : 0;
}
#endif

/* ---- what is run ---- */

#define VAN "examples/van-800w-8awg/system.ini"
#define ALL_OF_IT "examples/reference/all-of-it.ini"
#define TEN_LINES "examples/reference/ten-line.ini"
#define END_S 40

struct scene {
  const char *name, *file;
  struct tailvolt_setting settings[4];
  const char *profile;
  bool blow;
  /* what must have happened for the count to mean anything */
  bool cuts_out, heats, blows;
  const char *column; /* of the record, and how far it must swing */
  double swing;
};

#define IDLE "time_s,engine_rpm,level_db\n0,800,0\n40,800,0\n"
static const struct scene SCENES[] = {
    {.name = "ten lines", .file = TEN_LINES, .profile = IDLE},
    {.name = "cut-outs",

     .file = VAN,
     .settings = {{"battery starter.state of charge = 30 %"},
                  {"amplifier bass.cut-out voltage = 11 V"},
                  {"amplifier bass.cut-in voltage = 11.2 V"}},
     .profile = "time_s,engine_rpm,level_db\n0,0,3\n40,0,3\n",
     .cuts_out = true},
    {.name = "relay",

     .file = ALL_OF_IT,
     .profile = "time_s,engine_rpm,level_db,base_load_a\n0,2500,-20,0\n15,0,0,40\n40,0,0,40\n",
     .column = "second:a_max",
     .swing = 5},
    {.name = "diode",

     .file = ALL_OF_IT,
     .settings = {{"isolator split charge.kind = diode"}},
     .profile = "time_s,engine_rpm,level_db,base_load_a\n0,2500,0,0\n15,0,0,40\n40,0,0,40\n",
     .column = "second:a_max",
     .swing = 5},
    {.name = "converter",

     .file = ALL_OF_IT,
     .settings = {{"isolator split charge.kind = converter"},
                  {"isolator split charge.output = 30 A at 14.4 V"}},
     .profile = IDLE,
     .column = "second:a_max",
     .swing = 5},
    {.name = "drift",

     .file = VAN,
     .settings = {{"amplifier bass.rated power = 3000 W"},
                  {"cable amplifier feed.size = 10 mm2"},
                  {"battery starter.capacity = 120 Ah"},
                  {"battery starter.cold cranking = 1000 A EN"}},
     .profile = "time_s,engine_rpm,level_db\n0,2500,0\n40,2500,0\n",
     .heats = true},
    {.name = "fuse that blows",

     .file = VAN,
     .settings = {{"fuse main.rating = 10 A"}},
     .profile = IDLE,
     .blow = true,
     .blows = true},
    {.name = "starts",

     .file = VAN,
     .settings = {{"engine.simulate starts = yes"}},
     .profile = "time_s,engine_rpm,level_db\n0,0,-6\n10,800,-6\n20,0,-6\n30,800,-6\n40,800,-6\n",
     .column = "starter:a_max",
     .swing = 200},
};

/* ---- counting ---- */

struct seen {
  long first, last; /* calls so far, at the first and the last step */
  double first_s, last_s;
  const char *column;
  int cell; /* index of that column, -1 = not there */
  double low, high;
};

static int take_names(void *context, const char *const *names, int count) {
  struct seen *seen = context;
  for (int k = 0; k < count; k++)
    if (seen->column != NULL && strcmp(names[k], seen->column) == 0) seen->cell = k;
  return 0;
}

/* The last row may come when the run is finished, which may allocate. */
static int take_row(void *context, const double *cells, int count) {
  struct seen *seen = context;
  (void)count;
  if (seen->cell >= 0)
    seen->low = fmin(seen->low, cells[seen->cell]), seen->high = fmax(seen->high, cells[seen->cell]);
  if (seen->first < 0) seen->first = calls, seen->first_s = cells[0];
  if (cells[0] < END_S - 0.02) seen->last = calls, seen->last_s = cells[0];
  return 0;
}

static struct tailvolt_system *system_of(const struct scene *scene) {
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  char path[1024];
  int count = 0;
  while (count < 4 && scene->settings[count].text != NULL) count++;
  snprintf(path, sizeof path, "%s/%s", TAILVOLT_SOURCE_DIR, scene->file);
  enum tailvolt_status status = tailvolt_system_read(path, scene->settings, count, &system, &faults);
  if (status != TAILVOLT_OK) fail_msg("%s: %s", scene->name, faults.fault[0].message);
  return system;
}

static void confirm(const struct scene *scene, const struct seen *seen,
                    const struct tailvolt_result *result) {
  int cut_outs = 0, opened = 0;
  double hottest_c = -300;
  for (int k = 0; k < result->amplifier_count; k++) cut_outs += result->amplifiers[k].cut_outs;
  for (int k = 0; k < result->conductor_count; k++) hottest_c = fmax(hottest_c, result->conductors[k].end_c);
  for (int k = 0; k < result->fuse_count; k++) opened += result->fuses[k].opens;
  if (scene->cuts_out) assert_true(cut_outs > 0);
  if (scene->heats) assert_true(hottest_c > 40);
  if (scene->blows) assert_true(opened > 0);
  if (scene->column != NULL && !(seen->high - seen->low > scene->swing))
    fail_msg("%s: %s swings from %g to %g", scene->name, scene->column, seen->low, seen->high);
}

static void no_memory_between_first_and_last_step(void **state) {
  (void)state;
  if (!COUNTS) {
    printf("nothing to count with here\n");
    skip();
  }
  bool failed = false;
  for (size_t k = 0; k < sizeof SCENES / sizeof SCENES[0]; k++) {
    const struct scene *scene = &SCENES[k];
    struct tailvolt_system *system = system_of(scene);
    struct tailvolt_profile *profile = scene_profile(system, scene->profile);
    struct seen seen = {-1, -1, 0, 0, scene->column, -1, HUGE_VAL, -HUGE_VAL};
    struct tailvolt_record_sink sink = {&seen, take_names, take_row};
    struct tailvolt_options options = tailvolt_default_options();
    options.record = &sink;
    options.record_every_s = 1e-3;
    options.blow = scene->blow;
    struct tailvolt_result *result = NULL;
    char error[TAILVOLT_TEXT_MAX] = "";
    if (tailvolt_simulate(system, profile, &options, &result, error) != TAILVOLT_OK)
      fail_msg("%s: %s", scene->name, error);
    assert_true(seen.first_s < 0.01 && seen.last_s > END_S - 0.1);
    confirm(scene, &seen, result);
    long taken = seen.last - seen.first;
    printf("%-16s %ld times in %lld steps\n", scene->name, taken, (long long)result->steps);
    failed = failed || taken != 0;
    tailvolt_result_free(result);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
  assert_false(failed);
}

static void calls_are_counted(void **state) {
  (void)state;
  if (!COUNTS) skip();
  long before = calls;
  void *volatile block = malloc(10);
  block = realloc(block, 100);
  free(block);
  block = calloc(2, 5);
  free(block);
  block = aligned_alloc(64, 64);
  free(block);
  assert_int_equal(calls - before, 4);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(calls_are_counted),
                                     cmocka_unit_test(no_memory_between_first_and_last_step)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
