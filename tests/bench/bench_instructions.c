/* bench_instructions RUN SECONDS OTHER: one of three short runs, for tests/bench/instructions.sh, which counts
 * its instructions. `bench_instructions key` prints what a count depends on, or returns 1 where none is
 * stored. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"
#include "support/scenes.h"

#if defined(__GLIBC__)
#include <gnu/libc-version.h>
#endif

static int print_key(void) {
#if defined(__GLIBC__) && !defined(__clang__) && defined(__x86_64__) && defined(__OPTIMIZE__) &&             \
    !defined(__SANITIZE_ADDRESS__) && defined(TAILVOLT_RELEASE)
  printf("gcc %d.%d.%d, glibc %s, x86-64\n", __GNUC__, __GNUC_MINOR__, __GNUC_PATCHLEVEL__,
         gnu_get_libc_version());
  return 0;
#else
  printf("counted in a release build by gcc only, with glibc\n");
  return 1;
#endif
}

static struct tailvolt_profile *profile_of(const struct tailvolt_system *system, bool reference, double duration_s) {
  char text[128];
  if (reference) return scene_beats(system, &scene_reference_beat, 2000, SCENE_REFERENCE_BASE_A, duration_s);
  snprintf(text, sizeof text, "time_s,engine_rpm,level_db\n0,800,0\n%g,800,0\n", duration_s);
  return scene_profile(system, text);
}

int main(int argc, char **argv) {
  if (argc == 2 && strcmp(argv[1], "key") == 0) return print_key();
  if (argc != 4) return 2;
  double duration_s = strtod(argv[2], NULL);
  bool reference = strcmp(argv[1], "reference") == 0, van = strcmp(argv[1], "van") == 0;
  struct tailvolt_system *system = scene_read(reference ? SCENE_REFERENCE_FILE
                                              : van     ? "examples/van-800w-8awg/system.ini"
                                                        : "examples/reference/ten-line.ini");
  struct tailvolt_profile *profile = profile_of(system, reference, duration_s);
  tailvolt_profile_free(profile_of(system, reference, strtod(argv[3], NULL)));
  struct tailvolt_options options = reference ? scene_isothermal() : tailvolt_default_options();
  options.settle_s = 0;
  struct tailvolt_result *result = NULL;
  char error[TAILVOLT_TEXT_MAX] = "";
  if (tailvolt_simulate(system, profile, &options, &result, error) != TAILVOLT_OK) {
    fprintf(stderr, "%s\n", error);
    return 3;
  }
  printf("steps %lld\n", result->steps);
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return 0;
}
