/* match: logs made by the simulator with noise added return the truth within the stated errors, and keys that a log cannot
 * determine are named exactly where the rank of its derivatives falls. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/scenes.h"

#ifdef TAILVOLT_SANITIZED
enum { SEEDS = 16, SLOW = 1 }; /* sanitizers make a run ten times as long: there it only has to run clean */
#else
enum { SEEDS = 400, SLOW = 0 };
#endif

/* ---- noise ---- */

struct noise {
  unsigned long long state;
  double sigma, alike; /* standard deviation; correlation from one reading of a column to the next */
  double spikes_frac, spike;
};

static double uniform(struct noise *n) { /* splitmix64 */
  unsigned long long z = n->state += 0x9e3779b97f4a7c15ull;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
  return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

static double gauss(struct noise *n) { return sqrt(-2 * log(uniform(n))) * cos(6.283185307179586 * uniform(n)); }

/* ---- a log of the true car ---- */

enum { ROWS = 40, COLUMNS_MAX = 6 };

struct scene {
  const char *system;     /* the user's file */
  const char *truth[4];   /* settings that turn it into the true car; NULL ends */
  const char *columns[COLUMNS_MAX];
  const char *drive;      /* further profile columns */
  void (*row)(int k, char *text, size_t size);
};

static double interval_s = 0.5;

static struct tailvolt_log *log_of(const struct tailvolt_system *system, const struct scene *scene, const double *cells) {
  char *text = malloc(1 << 16);
  const size_t room = 1 << 16;
  int count = 0;
  size_t used = (size_t)snprintf(text, room, "time_s,%s", scene->drive);
  for (; count < COLUMNS_MAX && scene->columns[count] != NULL; count++)
    used += (size_t)snprintf(text + used, room - used, ",%s", scene->columns[count]);
  used += (size_t)snprintf(text + used, room - used, "\n");
  for (int k = 0; k < ROWS; k++) {
    used += (size_t)snprintf(text + used, room - used, "%.17g,", interval_s * k);
    scene->row(k, text + used, room - used);
    used += strlen(text + used);
    for (int c = 0; c < count; c++)
      used += (size_t)snprintf(text + used, room - used, ",%.17g", cells == NULL ? 0 : cells[k * count + c]);
    used += (size_t)snprintf(text + used, room - used, "\n");
  }
  struct tailvolt_log *log = NULL;
  struct tailvolt_faults faults;
  if (tailvolt_log_parse(text, "log.csv", system, &log, &faults) != TAILVOLT_OK)
    fail_msg("%s: %s", faults.fault[0].key, faults.fault[0].message);
  free(text);
  return log;
}

static struct tailvolt_compare_options quick(void) {
  struct tailvolt_compare_options options = tailvolt_default_compare_options();
  options.run.settle_s = 2;
  return options;
}

/* What the true car's meters show, without noise. */
static double *true_cells(const struct scene *scene, int *count) {
  struct tailvolt_system *system = scene_parse(scene->system);
  struct tailvolt_setting settings[4];
  struct tailvolt_faults faults;
  struct tailvolt_compare_options options = quick();
  struct tailvolt_comparison *comparison = NULL;
  char error[TAILVOLT_TEXT_MAX];
  int truths = 0;
  for (; truths < 4 && scene->truth[truths] != NULL; truths++) settings[truths].text = scene->truth[truths];
  if (tailvolt_system_change(system, settings, truths, &faults) != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
  struct tailvolt_log *log = log_of(system, scene, NULL);
  if (tailvolt_compare(system, (const struct tailvolt_log *const[]){log}, 1, &options, &comparison, error) != TAILVOLT_OK)
    fail_msg("%s", error);
  *count = ROWS * comparison->logs[0].column_count;
  double *cells = malloc((size_t)*count * sizeof *cells);
  memcpy(cells, comparison->logs[0].simulated, (size_t)*count * sizeof *cells);
  tailvolt_comparison_free(comparison);
  tailvolt_log_free(log);
  tailvolt_system_free(system);
  return cells;
}

static void add_noise(double *cells, int count, int columns, struct noise *noise) {
  double last[COLUMNS_MAX];
  for (int k = 0; k < count; k++) {
    int c = k % columns;
    last[c] = k < columns ? gauss(noise) : noise->alike * last[c] + sqrt(1 - noise->alike * noise->alike) * gauss(noise);
    cells[k] += noise->sigma * last[c];
    if (noise->spikes_frac > 0 && uniform(noise) < noise->spikes_frac) cells[k] += noise->spike;
  }
}

static struct tailvolt_matching *match(const struct tailvolt_system *system, const struct scene *scene, const double *cells,
                                       const char *const *keys, int key_count) {
  struct tailvolt_compare_options options = quick();
  struct tailvolt_matching *matching = NULL;
  char error[TAILVOLT_TEXT_MAX];
  options.threads = 1;
  struct tailvolt_log *log = log_of(system, scene, cells);
  if (tailvolt_match(system, (const struct tailvolt_log *const[]){log}, 1, keys, key_count, &options, &matching, error) != TAILVOLT_OK)
    fail_msg("%s", error);
  tailvolt_log_free(log);
  return matching;
}

/* ---- the truth within the stated errors ---- */

/* A small car: hundreds of fits must be quick. */
#define CAR "[vehicle]\nwiring = own\nambient = 25 C\n[battery]\npositive = battery post\ncapacity = 70 Ah\nresistance = 30 mohm\n" \
            "polarization = 4 mohm, 10 s\nopen circuit = 11.9 V at 0 %, 12.8 V at 100 %\n" \
            "[alternator]\npositive = battery post\nnegative = ground\nrated current = 110 A\n" \
            "[joint feed]\nfrom = battery post\nto = amplifier plus\nresistance = 4 mohm\n" \
            "[joint return]\nfrom = amplifier minus\nto = ground\nresistance = 3 mohm\n" \
            "[amplifier bass]\npositive = amplifier plus\nnegative = amplifier minus\nrated power = 800 W\n"

static void steps(int k, char *text, size_t size) { snprintf(text, size, "%d,%d", k < ROWS / 2 ? 800 : 2000, k / 8 % 2 * (30 + k)); }

static const struct scene usual = {CAR, {"alternator.set point = 14.42 V", "joint feed.resistance = 6.5 mohm",
                                         "joint return.resistance = 2.2 mohm", NULL},
                                   {"voltage_v:battery post", "voltage_v:amplifier plus", "voltage_v:amplifier minus"},
                                   "engine_rpm,supply_a:bass", steps};
static const char *const usual_keys[] = {"alternator.set point", "joint feed.resistance", "joint return.resistance"};
static const double usual_truth[] = {14.42, 6.5e-3, 2.2e-3};

struct covered {
  int inside[3], seeds;
  double bias[3]; /* mean of (value - truth) / error */
};

static struct covered cover(struct noise noise, int seeds) {
  struct covered covered = {{0}, seeds, {0}};
  int count;
  double *clean = true_cells(&usual, &count);
  struct tailvolt_system *system = scene_parse(usual.system);
#pragma omp parallel for schedule(dynamic, 1)
  for (int seed = 0; seed < seeds; seed++) {
    struct noise mine = noise;
    double *cells = malloc((size_t)count * sizeof *cells);
    struct tailvolt_matching *matching = NULL;
    memcpy(cells, clean, (size_t)count * sizeof *cells);
    mine.state = 7919u * (unsigned)seed + 1;
    add_noise(cells, count, 3, &mine);
    matching = match(system, &usual, cells, usual_keys, 3);
#pragma omp critical(sum)
    for (int k = 0; k < 3; k++) {
      const struct tailvolt_matched *key = &matching->keys[k];
      covered.inside[k] += key->low <= usual_truth[k] && usual_truth[k] <= key->high;
      covered.bias[k] += (key->value - usual_truth[k]) / key->error / seeds;
    }
    tailvolt_matching_free(matching);
    free(cells);
  }
  tailvolt_system_free(system);
  free(clean);
  for (int k = 0; k < 3; k++)
    print_message("  %-28s %.1f %% of %d intervals hold the truth, bias %+.2f errors\n", usual_keys[k],
                  100.0 * covered.inside[k] / seeds, seeds, covered.bias[k]);
  return covered;
}

static void white_noise_is_covered(void **state) {
  (void)state;
  struct covered covered = cover((struct noise){.sigma = 0.008}, SEEDS);
  for (int k = 0; k < 3; k++) {
    if (!SLOW) assert_true(covered.inside[k] >= 0.93 * SEEDS && covered.inside[k] <= 0.97 * SEEDS);
    assert_true(covered.inside[k] >= SEEDS * 5 / 8);
  }
}

/* One reading in thirty is three volts off: the intervals still hold, where plain squares are pulled away by dozens of errors. */
static void spikes_pull_little(void **state) {
  (void)state;
  int seeds = SLOW ? 4 : 200;
  struct covered covered = cover((struct noise){.sigma = 0.008, .spikes_frac = 1.0 / 30, .spike = 3.0}, seeds);
  for (int k = 0; k < 3; k++) assert_true(SLOW || covered.inside[k] >= 0.88 * seeds);
}

/* Noise that stays correlated for some readings: intervals that took each as independent would hold in about 70
 * of 100. */
static void alike_noise_is_allowed_for(void **state) {
  (void)state;
  int seeds = SLOW ? 4 : 100;
  struct covered covered = cover((struct noise){.sigma = 0.008, .alike = 0.6}, seeds);
  for (int k = 0; k < 3; k++) assert_true(SLOW || covered.inside[k] >= 0.8 * seeds);
}

/* ---- what cannot be determined ---- */

#define TWO_JOINTS "[vehicle]\nwiring = own\n[battery]\npositive = battery post\ncapacity = 70 Ah\nresistance = 30 mohm\n" \
                   "polarization = 4 mohm, 10 s\nopen circuit = 11.9 V at 0 %, 12.8 V at 100 %\n" \
                   "[alternator]\npositive = battery post\nnegative = ground\nrated current = 110 A\n" \
                   "[joint feed]\nfrom = battery post\nto = tap\nresistance = 4 mohm\n" \
                   "[joint tail]\nfrom = tap\nto = amplifier plus\nresistance = 2 mohm\n" \
                   "[joint return]\nfrom = amplifier minus\nto = ground\nresistance = 3 mohm\n" \
                   "[amplifier bass]\npositive = amplifier plus\nnegative = amplifier minus\nrated power = 800 W\n"

struct rank_case {
  const char *columns[3];
  const char *keys[4];
  enum tailvolt_match_state states[4];
  unsigned alike[4];
  const char *volts; /* advised for the key that is left */
};

#define OK TAILVOLT_MATCH_FITTED
#define ALIKE TAILVOLT_MATCH_ALIKE
#define UNSEEN TAILVOLT_MATCH_UNSEEN
static const struct rank_case rank_cases[] = {
    /* two in one path: only their sum is seen, until the point between them is */
    {{"voltage_v:amplifier plus", "voltage_v:battery post"},
     {"joint feed.resistance", "joint tail.resistance"}, {OK, ALIKE}, {2, 1}, "voltage_v:tap"},
    {{"voltage_v:amplifier plus", "voltage_v:tap", "voltage_v:battery post"},
     {"joint feed.resistance", "joint tail.resistance"}, {OK, OK}, {0, 0}, NULL},
    {{"voltage_v:tap"}, {"joint feed.resistance", "alternator.set point"}, {OK, OK}, {0, 0}, NULL},
    /* the loop seen only at the amplifier's terminals; the set point has nothing to do with it */
    {{"voltage_v:bass"},
     {"alternator.set point", "joint feed.resistance", "joint return.resistance"}, {OK, OK, ALIKE}, {0, 4, 2}, "voltage_v:tap"},
    {{"voltage_v:bass", "voltage_v:amplifier minus"},
     {"alternator.set point", "joint feed.resistance", "joint return.resistance"}, {OK, OK, OK}, {0, 0, 0}, NULL},
    /* three in one loop leave two combinations open */
    {{"voltage_v:bass", "voltage_v:battery post"},
     {"joint feed.resistance", "joint tail.resistance", "joint return.resistance"}, {OK, ALIKE, ALIKE}, {6, 5, 3}, NULL},
    /* nothing shows what the amplifier could give while its draw is prescribed */
    {{"voltage_v:bass", "voltage_v:battery post"},
     {"alternator.set point", "amplifier bass.rated power"}, {OK, UNSEEN}, {0, 0}, ""},
    /* before the tap the joint after it leaves no trace */
    {{"voltage_v:tap", "voltage_v:battery post"},
     {"joint feed.resistance", "joint tail.resistance"}, {OK, UNSEEN}, {0, 0}, "voltage_v:amplifier plus"},
};

static void rank_falls_where_it_must(void **state) {
  (void)state;
  for (size_t n = 0; n < sizeof rank_cases / sizeof rank_cases[0]; n++) {
    const struct rank_case *one = &rank_cases[n];
    struct scene scene = {TWO_JOINTS, {"joint feed.resistance = 5 mohm", NULL}, {one->columns[0], one->columns[1], one->columns[2]},
                          "engine_rpm,supply_a:bass", steps};
    struct tailvolt_system *system = scene_parse(scene.system);
    int count, columns = 0, keys = 0;
    while (columns < 3 && one->columns[columns] != NULL) columns++;
    while (keys < 4 && one->keys[keys] != NULL) keys++;
    double *cells = true_cells(&scene, &count);
    struct noise noise = {.state = 5, .sigma = 0.004};
    add_noise(cells, count, columns, &noise);
    struct tailvolt_matching *matching = match(system, &scene, cells, one->keys, keys);
    for (int k = 0; k < keys; k++) {
      const struct tailvolt_matched *key = &matching->keys[k];
      if (key->state != one->states[k] || key->alike != one->alike[k])
        fail_msg("case %zu, %s: state %d, alike %u", n, key->key, key->state, key->alike);
      if (key->state == TAILVOLT_MATCH_FITTED) {
        assert_true(key->error > 0 && key->low < key->value && key->value < key->high);
        continue;
      }
      assert_near(key->value, key->before, 1e-12 * fabs(key->before));
      if (one->volts != NULL && strcmp(key->measure_volts, one->volts) != 0)
        fail_msg("case %zu, %s: advises \"%s\"", n, key->key, key->measure_volts);
    }
    tailvolt_matching_free(matching);
    free(cells);
    tailvolt_system_free(system);
  }
}

/* Faulty requests are reported. */
static void faults_are_named(void **state) {
  (void)state;
  static const struct { const char *key, *message; } cases[] = {
      {"set point", "set point: name a key as --set does, such as alternator.set point"},
      {"alternater.set point", "alternater.set point: unknown section; did you mean 'alternator'?"},
      {"feed.resistance", "feed.resistance: unknown section; did you mean 'joint feed'?"},
      {"alternator.setpoint", "alternator.setpoint: unknown key in [alternator]; did you mean 'set point'?"},
      {"battery.kind", "battery.kind: is not one number with a unit: it cannot be fitted"},
      {"joint nowhere.resistance", "joint nowhere.resistance: the system has no such part; `tailvolt check` lists its parts"},
      {"alternator.fixed output",
       "alternator.fixed output: has no value to start from: give one, such as --set \"alternator.fixed output = ...\""},
  };
  struct tailvolt_system *system = scene_parse(usual.system);
  struct tailvolt_compare_options options = quick();
  int count;
  double *cells = true_cells(&usual, &count);
  struct tailvolt_log *log = log_of(system, &usual, cells);
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    struct tailvolt_matching *matching = NULL;
    char error[TAILVOLT_TEXT_MAX];
    assert_int_equal(tailvolt_match(system, (const struct tailvolt_log *const[]){log}, 1, &cases[k].key, 1, &options, &matching, error),
                     TAILVOLT_BAD_INPUT);
    assert_null(matching);
    assert_string_equal(error, cases[k].message);
  }
  tailvolt_log_free(log);
  free(cells);
  tailvolt_system_free(system);
}

/* The file with what was learned: values marked, dated, and read back as fitted; comments stay. */
static void writes_what_it_learned(void **state) {
  (void)state;
  int count;
  double *cells = true_cells(&usual, &count);
  struct noise noise = {.state = 3, .sigma = 0.008};
  struct tailvolt_system *system = scene_parse(usual.system), *again = NULL;
  struct tailvolt_faults faults;
  char *text = NULL, with_comment[2048];
  add_noise(cells, count, 3, &noise);
  struct tailvolt_matching *matching = match(system, &usual, cells, usual_keys, 3);
  snprintf(with_comment, sizeof with_comment, "; the shadow players' car\n%s", usual.system);
  assert_int_equal(tailvolt_match_write(with_comment, NULL, 0, matching, "2026-01-31", &text), TAILVOLT_OK);
  assert_non_null(strstr(text, "; the shadow players' car"));
  assert_non_null(strstr(text, " measured  # 2026-01-31: fitted to logs, +- "));
  assert_non_null(strstr(text, "; was 4 mohm\n"));
  assert_non_null(strstr(text, "; was 14.2 V, assumed\n"));
  if (tailvolt_system_parse(text, "again", NULL, 0, &again, &faults) != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
  assert_int_equal(again->measured_count, 3);
  assert_near(again->alternator.set_point_v, matching->keys[0].value, 0.2 * matching->keys[0].error);
  assert_near(again->conductors[0].resistance_ohm, matching->keys[1].value, 0.2 * matching->keys[1].error);
  tailvolt_system_free(again);
  tailvolt_system_text_free(text);
  tailvolt_matching_free(matching);
  tailvolt_system_free(system);
  free(cells);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(white_noise_is_covered),     cmocka_unit_test(spikes_pull_little),
      cmocka_unit_test(alike_noise_is_allowed_for), cmocka_unit_test(rank_falls_where_it_must),
      cmocka_unit_test(faults_are_named),           cmocka_unit_test(writes_what_it_learned),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
