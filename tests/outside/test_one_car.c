/* A real car's regulator against the model, end to end: four logs of one belt alternator (tests/outside/data/one-car.md), from 30 s
 * after the start of the engine.
 *
 * The standard car of ten lines, as it stands; then set point, drift and warming time fitted by tailvolt_match() to two of the logs
 * and the other two predicted, for all six splits. Beside it what a straight line in the intake air's temperature does, fitted by
 * least squares to the same two logs: a thermometer is the best that one has without a model.
 *
 * The car's intake air is not given to the simulation: that the bay warms from cold within minutes of the start, whatever the
 * thermometer in the intake says, is what the model knows and the line does not. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_fit.h>
#include <gsl/gsl_statistics_double.h>

#include "support/scenes.h"

#ifdef TAILVOLT_SANITIZED
enum { SPLITS = 1 }; /* a sanitizer makes a run ten times as long: that it runs clean is what is asked there */
#else
enum { SPLITS = 6 };
#endif
enum { LOGS = 4, ROWS_MAX = 1200 };
static const double FROM_S = 30;
static const char *const names[LOGS] = {"commute", "idle-cool", "idle-warm", "long-trip"};
static const char *const keys[] = {"alternator.set point", "alternator.set point drift", "vehicle.warming time"};

/* What the straight line is fitted to. */
struct thermometer {
  size_t count;
  double intake_c[ROWS_MAX], v[ROWS_MAX];
};

struct car {
  struct tailvolt_system *system;
  struct tailvolt_log *log[LOGS];
  struct thermometer thermometer[LOGS];
};

static void path_of(int log, char *to, size_t size) {
  snprintf(to, size, TAILVOLT_SOURCE_DIR "/tests/outside/data/one-car-%s.csv", names[log]);
}

/* Columns: time, speed of the engine, of the car, intake, coolant, voltage. */
static void read_thermometer(int log, struct thermometer *out) {
  char path[512], line[256];
  path_of(log, path, sizeof path);
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  while (fgets(line, sizeof line, file) != NULL) {
    double time_s, intake_c, v;
    if (sscanf(line, "%lf,%*f,%*f,%lf,%*f,%lf", &time_s, &intake_c, &v) != 3 || time_s < FROM_S) continue;
    assert_true(out->count < ROWS_MAX);
    out->intake_c[out->count] = intake_c;
    out->v[out->count++] = v;
  }
  fclose(file);
}

static struct tailvolt_compare_options options_of(void) {
  struct tailvolt_compare_options options = tailvolt_default_compare_options();
  options.from_s = FROM_S;
  return options;
}

/* RMS of measured less simulated of one log on a system. */
static double error_v(const struct tailvolt_system *system, const struct tailvolt_log *log) {
  struct tailvolt_compare_options options = options_of();
  struct tailvolt_comparison *comparison = NULL;
  char error[TAILVOLT_TEXT_MAX];
  if (tailvolt_compare(system, &log, 1, &options, &comparison, error) != TAILVOLT_OK) fail_msg("%s", error);
  double rms_v = comparison->logs[0].columns[0].rms;
  tailvolt_comparison_free(comparison);
  return rms_v;
}

/* The system with what fits two of the logs. */
static struct tailvolt_system *fit_two(const struct car *car, int first, int second) {
  struct tailvolt_compare_options options = options_of();
  struct tailvolt_matching *matching = NULL;
  struct tailvolt_system *fitted = NULL;
  char error[TAILVOLT_TEXT_MAX];
  const struct tailvolt_log *logs[] = {car->log[first], car->log[second]};
  if (tailvolt_match(car->system, logs, 2, keys, 3, &options, &matching, error) != TAILVOLT_OK) fail_msg("%s", error);
  assert_int_equal(tailvolt_system_copy(car->system, &fitted), TAILVOLT_OK);
  print_message("%s and %s:", names[first], names[second]);
  for (int k = 0; k < matching->count; k++) {
    const struct tailvolt_matched *key = &matching->keys[k];
    print_message(" %s", key->text);
    assert_int_equal(tailvolt_system_set(fitted, key->key, key->text), TAILVOLT_OK);
  }
  print_message(" (%ld readings worth %.0f)\n", matching->readings, matching->worth);
  assert_true(matching->settled);
  /* what is left of a real log is no noise: its readings are worth far fewer than there are */
  assert_true(matching->worth < 0.1 * (double)matching->readings);
  tailvolt_matching_free(matching);
  return fitted;
}

/* RMS on one log of a straight line fitted to two. */
static double line_error_v(const struct car *car, int first, int second, int predicted) {
  static double x[2 * ROWS_MAX], y[2 * ROWS_MAX];
  size_t n = 0;
  double c0, c1, cov00, cov01, cov11, sum, square = 0;
  const int fit[] = {first, second};
  for (int k = 0; k < 2; k++)
    for (size_t r = 0; r < car->thermometer[fit[k]].count; r++) {
      x[n] = car->thermometer[fit[k]].intake_c[r];
      y[n++] = car->thermometer[fit[k]].v[r];
    }
  gsl_fit_linear(x, 1, y, 1, n, &c0, &c1, &cov00, &cov01, &cov11, &sum);
  const struct thermometer *t = &car->thermometer[predicted];
  for (size_t r = 0; r < t->count; r++) square += pow(t->v[r] - c0 - c1 * t->intake_c[r], 2);
  return sqrt(square / (double)t->count);
}

static void one_real_car(void **state) {
  (void)state;
  struct car *car = calloc(1, sizeof *car);
  struct tailvolt_faults faults;
  double model_v[12], line_v[12], standard_v[LOGS];
  int n = 0;
  car->system = scene_read("examples/reference/ten-line.ini");
  for (int k = 0; k < LOGS; k++) {
    char path[512];
    path_of(k, path, sizeof path);
    if (tailvolt_log_read(path, NULL, car->system, &car->log[k], &faults) != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
    read_thermometer(k, &car->thermometer[k]);
    standard_v[k] = error_v(car->system, car->log[k]);
    print_message("%-10s standard car, nothing fitted: %.3f V rms\n", names[k], standard_v[k]);
  }
  for (int first = 0; first < LOGS; first++)
    for (int second = first + 1; second < LOGS; second++) {
      if (n == 2 * SPLITS) continue;
      struct tailvolt_system *fitted = fit_two(car, first, second);
      for (int k = 0; k < LOGS; k++) {
        if (k == first || k == second) continue;
        model_v[n] = error_v(fitted, car->log[k]);
        line_v[n] = line_error_v(car, first, second, k);
        print_message("  %-10s predicted to %.3f V rms; straight line %.3f, standard car %.3f\n", names[k], model_v[n], line_v[n],
                      standard_v[k]);
        n++;
      }
      tailvolt_system_free(fitted);
    }
  assert_int_equal(n, 2 * SPLITS);
  double model = gsl_stats_median(model_v, 1, 2 * SPLITS), line = gsl_stats_median(line_v, 1, 2 * SPLITS);
  double standard = gsl_stats_median(standard_v, 1, LOGS);
  print_message("medians: model %.3f V, straight line %.3f V (ratio %.2f), standard car %.3f V\n", model, line, model / line,
                standard);
  assert_true(model <= 0.8 * line);
  assert_true(model < 0.13); /* README */
  /* the set point and drift of the standard car are no strangers to a real regulator */
  assert_true(standard < 0.14);
  for (int k = 0; k < LOGS; k++) tailvolt_log_free(car->log[k]);
  tailvolt_system_free(car->system);
  free(car);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(one_real_car)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
