/* Programmes made once and shared by runs: the same bits as a run that makes its own, nothing read twice, and nothing
 * shared where descriptions differ. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "simulate/run.h"
#include "support/scenes.h"

static char envelope_path[96];

static void write_envelope(void) {
  FILE *file = fopen(envelope_path, "w");
  assert_non_null(file);
  fputs("time_s,share\n0,1\n0.1,0.2\n0.35,0.6\n0.5,0\n", file);
  fclose(file);
}

/* One amplifier that plays an envelope file and one that plays beats. */
static struct tailvolt_system *two_players(const char *setting) {
  static struct tailvolt_faults faults;
  char text[1024];
  struct tailvolt_system *system = NULL;
  struct tailvolt_setting settings[] = {{setting}};
  snprintf(text, sizeof text,
           "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[cable feed]\nsize = 8 AWG\nlength = 4 m\n"
           "[amplifier low]\nrated power = 500 W\nprogramme = read\n"
           "[programme read]\nenvelope = %s\n[programme beats]\ncrest factor = 12 dB\n",
           envelope_path);
  if (tailvolt_system_parse(text, "scene.ini", settings, setting != NULL, &system, &faults) != TAILVOLT_OK)
    fail_msg("%s: %s", faults.fault[0].key, faults.fault[0].message);
  return system;
}

/* Half a second of the envelope, then beats; the state's bits at the end. */
static enum tailvolt_status play(const struct tailvolt_system *system, const struct tailvolt_options *options,
                                 const struct tv_programmes *shared, unsigned long long *hash, char *error) {
  struct tailvolt_profile *profile =
      scene_profile(system, "time_s,engine_rpm,programme:low\n0,800,read\n0.7,800,beats\n1.5,800,beats\n");
  struct tailvolt_result *result = NULL;
  enum tailvolt_status status = tv_simulate_with(system, profile, options, shared, &result, error);
  *hash = status == TAILVOLT_OK ? result->state_hash : 0;
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  return status;
}

static unsigned long long played(const struct tailvolt_system *system, const struct tailvolt_options *options,
                                 const struct tv_programmes *shared) {
  unsigned long long hash;
  char error[TAILVOLT_TEXT_MAX] = "";
  if (play(system, options, shared, &hash, error) != TAILVOLT_OK) fail_msg("%s", error);
  return hash;
}

static struct tv_programmes *make(const struct tailvolt_system *system, const struct tailvolt_options *options) {
  struct tv_programmes *programmes = NULL;
  char error[TAILVOLT_TEXT_MAX];
  if (tv_programmes_make(system, options, &programmes, error) != TAILVOLT_OK) fail_msg("%s", error);
  return programmes;
}

static void shared_and_own_give_the_same_bits(void **state) {
  (void)state;
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_system *system = two_players(NULL);
  write_envelope();
  unsigned long long own = played(system, &options, NULL), hash[8];
  struct tv_programmes *shared = make(system, &options);
  unlink(envelope_path); /* from here on it cannot be read again */
  assert_true(played(system, &options, shared) == own);
#ifdef _OPENMP
#pragma omp parallel for num_threads(4)
#endif
  for (int k = 0; k < 8; k++) {
    char error[TAILVOLT_TEXT_MAX];
    struct tailvolt_result *result = NULL;
    static struct tailvolt_faults faults[8];
    struct tailvolt_profile *profile = NULL;
    hash[k] = 0;
    if (tailvolt_profile_parse("time_s,engine_rpm,programme:low\n0,800,read\n0.7,800,beats\n1.5,800,beats\n", "scene.csv",
                               system, &profile, &faults[k]) == TAILVOLT_OK &&
        tv_simulate_with(system, profile, &options, shared, &result, error) == TAILVOLT_OK)
      hash[k] = result->state_hash;
    tailvolt_result_free(result);
    tailvolt_profile_free(profile);
  }
  for (int k = 0; k < 8; k++) assert_true(hash[k] == own);
  char error[TAILVOLT_TEXT_MAX];
  unsigned long long none;
  assert_int_equal(play(system, &options, NULL, &none, error), TAILVOLT_BAD_INPUT);
  assert_non_null(strstr(error, "No such file or directory"));
  tv_programmes_free(shared);
  tailvolt_system_free(system);
}

/* Another crest factor or seed: the run makes its own beats and still plays the envelope already read. */
static void what_differs_is_made_anew(void **state) {
  (void)state;
  static const char *const settings[] = {"programme beats.crest factor = 10 dB", "programme beats.tempo = 150 /min",
                                         "programme beats.decay = 90 ms", "programme beats.bass note = 55 Hz",
                                         "programme beats.seed = 5", "programme beats.style = kick"};
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_system *system = two_players(NULL);
  write_envelope();
  unsigned long long first = played(system, &options, NULL);
  struct tv_programmes *shared = make(system, &options);
  for (size_t k = 0; k < sizeof settings / sizeof settings[0]; k++) {
    struct tailvolt_system *other = two_players(settings[k]);
    write_envelope();
    unsigned long long own = played(other, &options, NULL);
    unlink(envelope_path);
    assert_true(own != first);
    assert_true(played(other, &options, shared) == own);
    tailvolt_system_free(other);
  }
  struct tailvolt_options seeded = options;
  seeded.seed_given = true;
  seeded.seed = 9;
  assert_null(tv_programmes_find(shared, system, 1, &seeded));
  assert_non_null(tv_programmes_find(shared, system, 0, &seeded)); /* a recording has no seed */
  seeded.seed = system->programmes[1].seed;
  assert_non_null(tv_programmes_find(shared, system, 1, &seeded));
  tv_programmes_free(shared);
  tailvolt_system_free(system);
}

/* Paths mean another file where the system file is elsewhere; filters change what a recording plays. */
static void another_file_folder_or_filter_is_not_shared(void **state) {
  (void)state;
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_system *system = two_players(NULL);
  write_envelope();
  struct tv_programmes *shared = make(system, &options);
  assert_non_null(tv_programmes_find(shared, system, 0, &options));
  assert_null(tv_programmes_find(NULL, system, 0, &options));
  struct tailvolt_programme *spec = &system->programmes[0];
  spec->below_hz = 80.0;
  assert_null(tv_programmes_find(shared, system, 0, &options));
  spec->below_hz = 0.0;
  spec->above_hz = 80.0;
  assert_null(tv_programmes_find(shared, system, 0, &options));
  spec->above_hz = 0.0;
  spec->envelope[0] = 'x';
  assert_null(tv_programmes_find(shared, system, 0, &options));
  spec->envelope[0] = envelope_path[0];
  memcpy(spec->recording, "track.ogg", sizeof "track.ogg");
  assert_null(tv_programmes_find(shared, system, 0, &options));
  spec->recording[0] = '\0';
  memcpy(spec->style, "kick", sizeof "kick");
  assert_null(tv_programmes_find(shared, system, 0, &options));
  spec->style[0] = '\0';
  assert_non_null(tv_programmes_find(shared, system, 0, &options));
  memcpy(system->file, "tour/scene.ini", sizeof "tour/scene.ini");
  assert_null(tv_programmes_find(shared, system, 0, &options));
  unlink(envelope_path);
  tv_programmes_free(shared);
  tailvolt_system_free(system);
}

static void what_cannot_be_read_is_named(void **state) {
  (void)state;
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_system *system = two_players(NULL);
  struct tv_programmes *none = NULL;
  char error[TAILVOLT_TEXT_MAX];
  unlink(envelope_path);
  assert_int_equal(tv_programmes_make(system, &options, &none, error), TAILVOLT_BAD_INPUT);
  assert_null(none);
  assert_non_null(strstr(error, "No such file or directory"));
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(shared_and_own_give_the_same_bits),
      cmocka_unit_test(what_differs_is_made_anew),
      cmocka_unit_test(another_file_folder_or_filter_is_not_shared),
      cmocka_unit_test(what_cannot_be_read_is_named),
  };
  const char *where = getenv("TMPDIR");
  snprintf(envelope_path, sizeof envelope_path, "%s/tailvolt-programmes-%ld.csv", where != NULL ? where : "/tmp",
           (long)getpid());
  int failed = cmocka_run_group_tests(tests, NULL, NULL);
  unlink(envelope_path);
  return failed;
}
