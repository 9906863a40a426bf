/* What holds of every car: random valid systems and profiles, a number each.
 *
 * `test_property_random_cars COUNT [FIRST]` tries COUNT of them from number FIRST on (2 000 from 1 by default; a few under sanitizers). */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/random_car.h"
#include "simulate/lanes.h"
#include "tailvolt/tailvolt.h"

#ifdef TAILVOLT_SANITIZED
enum { CARS = 12 }; /* ten times as slow */
#else
enum { CARS = 2000 };
#endif
static long first = 1, count = CARS;
#define SLICE_S 1e-3
#define APART_V 1e-9 /* what rounding alone may do to a voltage ... */
#define LITTLE 30    /* ... and by how many times two runs may part further in a slice, where no step takes another turn */
#define FINER_LEAST_V 5e-4 /* what finer steps may do to the lowest voltage, whatever those before did ... */
#define FINER_MEAN_V 5e-4  /* ... and to the mean: a field that swings between its bounds turns a step sooner or later */
static long tried, refused, turned, drifted, switched, thicker, finer, finest;
static double worst_energy, worst_ledger_v, worst_order_v;
static int broken;

struct job {
  struct tailvolt_system *system;
  struct tailvolt_profile *profile;
  struct tailvolt_result *result;
};

static void complain(long number, const struct car *car, const char *what) {
  broken++;
  printf("car %ld: %s\n", number, what);
  if (getenv("TAILVOLT_SHOW") != NULL) printf("%s---\n%s---\n", car->system, car->profile);
}

static void check(bool holds, long number, const struct car *car, const char *what) {
  if (!holds) complain(number, car, what);
}

static struct tailvolt_options options_of(void) {
  struct tailvolt_options options = tailvolt_default_options();
  options.settle_s = 1.5;
  return options;
}

static void close_job(struct job *job) {
  tailvolt_result_free(job->result);
  tailvolt_profile_free(job->profile);
  tailvolt_system_free(job->system);
  *job = (struct job){NULL, NULL, NULL};
}

/* False where a battery's label cannot be met; any other refusal, and any run that fails, is a fault. */
static bool open_job(long number, const struct car *car, const struct tailvolt_setting *setting, int settings, struct job *job) {
  static struct tailvolt_faults faults;
  char error[TAILVOLT_TEXT_MAX] = "";
  struct tailvolt_options options = options_of();
  *job = (struct job){NULL, NULL, NULL};
  enum tailvolt_status status =
      tailvolt_system_parse(car->system, "car.ini", setting, settings, &job->system, &faults);
  if (status == TAILVOLT_OK) status = tailvolt_profile_parse(car->profile, "rows.csv", job->system, &job->profile, &faults);
  if (status != TAILVOLT_OK) {
    char text[2 * TAILVOLT_TEXT_MAX];
    snprintf(text, sizeof text, "not accepted: line %d: %s", faults.fault[0].line, faults.fault[0].message);
    complain(number, car, text);
    close_job(job);
    return false;
  }
  status = tailvolt_simulate(job->system, job->profile, &options, &job->result, error);
  if (status == TAILVOLT_OK) return true;
  if (status == TAILVOLT_BAD_INPUT && strstr(error, "cannot both hold") != NULL) refused++;
  else complain(number, car, error[0] != '\0' ? error : tailvolt_status_text(status));
  close_job(job);
  return false;
}

/* ---- what a result must be ---- */

static double highest_v(const struct tailvolt_system *s) {
  /* a source's set point at its coldest; a lithium battery as good as full */
  double most_v = 14.6;
  if (s->alternator.present) most_v = fmax(most_v, s->alternator.set_point_high_v + fabs(s->alternator.drift_v_per_k) * 65);
  for (int k = 0; k < s->isolator_count; k++)
    if (s->isolators[k].kind == TAILVOLT_CONVERTER) most_v = fmax(most_v, s->isolators[k].output_v);
  /* with the only pack shut the field lets go slowly: a load dump, which alternators limit to 35 V (ISO 16750-2, test B) */
  for (int k = 0; k < s->battery_count; k++)
    if (s->batteries[k].kind == TAILVOLT_LITHIUM_IRON && s->alternator.present) most_v = 35;
  return most_v + 0.2;
}

static void sound_numbers(long number, const struct car *car, const struct job *job) {
  const struct tailvolt_result *r = job->result;
  double least_v = -0.05, most_v = highest_v(job->system);
  for (int k = 0; k < r->amplifier_count; k++) {
    const struct tailvolt_amplifier_result *a = &r->amplifiers[k];
    double numbers[] = {a->rest_v, a->min_v, a->mean_v, a->meter_min_v, a->min_without_ripple_v};
    for (size_t n = 0; n < sizeof numbers / sizeof *numbers; n++)
      check(numbers[n] >= least_v && numbers[n] <= most_v, number, car, "an amplifier's voltage is out of bounds");
    check(isfinite(a->mean_a) && isfinite(a->peak_a) && isfinite(a->input_j) && isfinite(a->output_j), number, car,
          "an amplifier's current or energy is no number");
    /* no more than its own capacitors held */
    double held_j = 0.5 * job->system->amplifiers[k].internal_f * a->rest_v * a->rest_v;
    check(a->output_j >= 0 && a->input_j >= -held_j - 1e-9, number, car, "an amplifier gives energy back");
    char what[160];
    snprintf(what, sizeof what, "plays %g s, for all but 1 %% of it at %g V, %.12g %% of it below target", a->play_s, a->low_1pct_v,
             a->below_target_pct);
    check(a->play_s <= 0 || (isfinite(a->low_1pct_v) && a->below_target_pct >= 0 && a->below_target_pct <= 100 + 1e-9), number, car, what);
    switched += a->cut_outs;
  }
  for (int k = 0; k < r->battery_count; k++) {
    const struct tailvolt_battery_result *b = &r->batteries[k];
    check(b->min_v >= least_v && b->min_v <= most_v, number, car, "a battery's voltage is out of bounds");
    check(b->end_soc_pct >= -1e-9 && b->end_soc_pct <= 100.001, number, car, "a state of charge is out of bounds");
    check(isfinite(b->charge_in_ah) && isfinite(b->charge_out_ah) && isfinite(b->loss_j), number, car, "a battery's books");
  }
  for (int k = 0; k < r->meter_count; k++)
    check(r->meters[k].min_v <= r->meters[k].mean_v + 1e-9 && r->meters[k].mean_v <= r->meters[k].max_v + 1e-9, number, car,
          "a meter's order"); /* where nothing moves the mean is rounded */
  for (int k = 0; k < r->conductor_count; k++)
    check(isfinite(r->conductors[k].rms_a) && r->conductors[k].loss_j >= 0, number, car, "a conductor's current or heat");
  const struct tailvolt_energy_result *e = &r->energy;
  double turned_j = fabs(e->generated_j) + fabs(e->from_storage_j) + fabs(e->loads_j) + fabs(e->amplifiers_j) + fabs(e->losses_j);
  double energy = fabs(e->residual_j) / fmax(turned_j, 1);
  check(energy < 1e-7, number, car, "the energy books do not close");
  worst_energy = fmax(worst_energy, energy);
  for (int k = 0; k < r->ledger_count; k++) {
    check(fabs(r->ledgers[k].residual_v) < 1e-6, number, car, "a ledger does not close");
    worst_ledger_v = fmax(worst_ledger_v, fabs(r->ledgers[k].residual_v));
  }
}

static void sound_texts(long number, const struct car *car, const struct job *job) {
  const struct tailvolt_result *one = job->result;
  struct tailvolt_report_style style = {.details = number % 8 == 0};
  char *text[3] = {NULL, NULL, NULL};
  enum tailvolt_status status = tailvolt_report_json(job->system, &one, 1, &text[0]);
  if (status == TAILVOLT_OK) status = tailvolt_report_csv(&one, 1, &text[1]);
  if (status == TAILVOLT_OK) status = tailvolt_report_text(job->system, &one, 1, NULL, &style, &text[2]);
  check(status == TAILVOLT_OK, number, car, "cannot be reported");
  for (int k = 0; k < 3; k++) {
    check(text[k] == NULL || (strstr(text[k], "nan") == NULL && strstr(text[k], "NaN") == NULL), number, car, "a report holds a nan");
    tailvolt_report_free(text[k]);
  }
}

/* ---- the same car otherwise ---- */

static void same_bits(long number, const struct car *car, const struct tailvolt_result *a, const struct tailvolt_result *b,
                      const char *how) {
  char what[256];
  bool same = a->state_hash == b->state_hash && a->steps == b->steps;
  for (int k = 0; k < a->amplifier_count && same; k++)
    same = memcmp(&a->amplifiers[k].min_v, &b->amplifiers[k].min_v, sizeof(double)) == 0 &&
           memcmp(&a->amplifiers[k].mean_v, &b->amplifiers[k].mean_v, sizeof(double)) == 0 &&
           a->amplifiers[k].output_j == b->amplifiers[k].output_j;
  snprintf(what, sizeof what, "other bits %s: hash %d, %lld and %lld steps, lowest %.17g and %.17g V, mean %.17g and %.17g V", how,
           a->state_hash == b->state_hash, a->steps, b->steps, a->amplifiers[0].min_v, b->amplifiers[0].min_v,
           a->amplifiers[0].mean_v, b->amplifiers[0].mean_v);
  check(same, number, car, what);
}

static void in_lanes(long number, const struct car *car, const struct job *job) {
  struct tailvolt_options options = options_of();
  struct tv_lane_job jobs[4];
  for (int width = 2; width <= 4; width += 2) {
    struct tv_lanes_how how = {.threads = number % 2 == 0 ? 2 : 1, .lanes = width};
    for (int k = 0; k < 4; k++) jobs[k] = (struct tv_lane_job){.system = job->system, .profile = job->profile, .options = &options};
    check(tv_lanes_simulate(jobs, width, NULL, &how) == TAILVOLT_OK, number, car, "lanes fail");
    for (int k = 0; k < width; k++) {
      if (jobs[k].result != NULL) same_bits(number, car, job->result, jobs[k].result, "in lanes");
      else complain(number, car, jobs[k].error);
      tailvolt_result_free(jobs[k].result);
    }
  }
}

/* Driven by a host in slices, with a detour that is taken back in each row. */
static void in_slices(long number, const struct car *car, const struct job *job) {
  struct tailvolt_options options = options_of();
  struct tailvolt_run *run = NULL;
  struct tailvolt_profile_cursor *cursor = NULL;
  const struct tailvolt_row *row = NULL, *next = NULL;
  struct tailvolt_result *result = NULL;
  bool prescribed[CAR_AMPLIFIERS];
  for (int k = 0; k < job->system->amplifier_count; k++) prescribed[k] = tailvolt_profile_prescribes(job->profile, k);
  enum tailvolt_status status = tailvolt_run_open(job->system, prescribed, &options, &run, NULL);
  if (status == TAILVOLT_OK) status = tailvolt_profile_open(job->profile, &cursor);
  if (status == TAILVOLT_OK) status = tailvolt_profile_next(cursor, &row);
  if (status == TAILVOLT_OK) status = tailvolt_run_begin(run, row);
  void *state = run != NULL ? malloc(tailvolt_run_state_size(run)) : NULL;
  while (status == TAILVOLT_OK && state != NULL && (status = tailvolt_profile_next(cursor, &next)) == TAILVOLT_OK && next != NULL) {
    double span_s = next->time_s - row->time_s;
    status = tailvolt_run_advance(run, row, next, row->time_s + 0.31 * span_s);
    tailvolt_run_save(run, state);
    if (status == TAILVOLT_OK) status = tailvolt_run_advance(run, row, next, row->time_s + 0.77 * span_s);
    struct tailvolt_reading there = tailvolt_run_amplifier(run, 0);
    tailvolt_run_restore(run, state);
    if (status == TAILVOLT_OK) status = tailvolt_run_advance(run, row, next, row->time_s + 0.77 * span_s);
    struct tailvolt_reading again = tailvolt_run_amplifier(run, 0);
    check(there.voltage_v == again.voltage_v && there.current_a == again.current_a, number, car, "other bits when restored");
    if (status == TAILVOLT_OK) status = tailvolt_run_advance(run, row, next, next->time_s);
    row = next;
  }
  if (status == TAILVOLT_OK) status = tailvolt_run_result(run, "slices", &result);
  check(status == TAILVOLT_OK, number, car, "slices fail");
  if (result != NULL) check(result->state_hash == job->result->state_hash, number, car, "other bits in slices");
  tailvolt_result_free(result);
  tailvolt_profile_close(cursor);
  tailvolt_run_close(run);
  free(state);
}

static const struct tailvolt_amplifier_result *called(const struct tailvolt_result *r, const char *name) {
  for (int k = 0; k < r->amplifier_count; k++)
    if (strcmp(r->amplifiers[k].name, name) == 0) return &r->amplifiers[k];
  return NULL;
}

struct driven {
  struct tailvolt_run *run;
  struct tailvolt_profile_cursor *cursor;
  const struct tailvolt_row *row, *next;
};

static bool drive_first(const struct job *job, struct driven *d) {
  struct tailvolt_options options = options_of();
  bool prescribed[CAR_AMPLIFIERS];
  *d = (struct driven){NULL, NULL, NULL, NULL};
  for (int k = 0; k < job->system->amplifier_count; k++) prescribed[k] = tailvolt_profile_prescribes(job->profile, k);
  return tailvolt_run_open(job->system, prescribed, &options, &d->run, NULL) == TAILVOLT_OK &&
         tailvolt_profile_open(job->profile, &d->cursor) == TAILVOLT_OK && tailvolt_profile_next(d->cursor, &d->row) == TAILVOLT_OK &&
         tailvolt_run_begin(d->run, d->row) == TAILVOLT_OK;
}

static double drive_voltage(const struct job *job, const struct driven *d, const char *name) {
  for (int k = 0; k < job->system->amplifier_count; k++)
    if (strcmp(job->system->amplifiers[k].name, name) == 0) return tailvolt_run_amplifier(d->run, k).voltage_v;
  return NAN;
}

/* An alternator alone with its loads, beside a pack that refuses charge, may hunt without end: a rounding error doubles in some
 * milliseconds, and both answers are right. Then the runs part little by little; where a step takes another turn, they part at once. */
static bool drift_apart(const struct job *one, const struct job *other, int amplifiers, bool renamed) {
  struct driven d[2];
  bool good = drive_first(one, &d[0]), little = true;
  good = drive_first(other, &d[1]) && good;
  double apart_v = APART_V;
  while (good && little) {
    for (int k = 0; k < 2; k++) good = good && tailvolt_profile_next(d[k].cursor, &d[k].next) == TAILVOLT_OK;
    if (!good || d[0].next == NULL || d[1].next == NULL) break;
    double from_s = d[0].row->time_s, end_s = d[0].next->time_s;
    long slices = (long)ceil((end_s - from_s) / SLICE_S);
    for (long n = 1; n <= slices && good && little; n++) {
      double to_s = n < slices ? from_s + (double)n * SLICE_S : end_s, now_v = 0;
      for (int k = 0; k < 2; k++) good = good && tailvolt_run_advance(d[k].run, d[k].row, d[k].next, to_s) == TAILVOLT_OK;
      for (int k = 0; k < amplifiers && good; k++)
        now_v = fmax(now_v, fabs(drive_voltage(one, &d[0], car_amplifier(k, false)) -
                                 drive_voltage(other, &d[1], car_amplifier(k, renamed))));
      little = now_v < LITTLE * apart_v;
      apart_v = fmax(apart_v, now_v);
    }
    for (int k = 0; k < 2; k++) d[k].row = d[k].next;
  }
  for (int k = 0; k < 2; k++) tailvolt_profile_close(d[k].cursor), tailvolt_run_close(d[k].run);
  return good && little;
}

static void in_other_order(long number, const struct car *car, const struct job *job) {
  static struct car other;
  struct job again;
  bool renamed = number % 3 != 0;
  car_make((unsigned long long)number, renamed, (unsigned long long)number * 31 + 7, &other);
  if (!open_job(number, &other, NULL, 0, &again)) return;
  check(again.result->status == job->result->status && again.result->safety == job->result->safety, number, &other,
        "another verdict in another order");
  for (int k = 0; k < car->amplifiers; k++) {
    const struct tailvolt_amplifier_result *a = called(job->result, car_amplifier(k, false)),
                                           *b = called(again.result, car_amplifier(k, renamed));
    double moved_v = a != NULL && b != NULL ? fmax(fabs(a->min_v - b->min_v), fabs(a->mean_v - b->mean_v)) : 99;
    worst_order_v = fmax(worst_order_v, moved_v);
    if (moved_v < 1e-9) continue;
    /* sums in another order may turn a switch or a tangent a step sooner: seldom, and 0.45 mV at most in 1 100 cars */
    turned++;
    if (moved_v < 1e-3) continue;
    if (drift_apart(job, &again, car->amplifiers, renamed)) {
      drifted++;
      break;
    }
    char what[160];
    snprintf(what, sizeof what, "in another order amplifier %d has %.12g, not %.12g V at least, mean %.12g, not %.12g V", k,
             b != NULL ? b->min_v : NAN, a != NULL ? a->min_v : NAN, b != NULL ? b->mean_v : NAN, a != NULL ? a->mean_v : NAN);
    complain(number, &other, what);
  }
  close_job(&again);
}

/* With a thicker feed the lowest voltage is no lower, but for two things. Storage at the amplifier's end keeps its voltage the longer,
 * the less of it a cable lets back to the car when something there takes a jump: with the car's side lower by D for a time T it falls
 * by D (1 - exp(-T/RC)). So both runs are without. An amplifier that finds no voltage at which it could draw what it asks for falls
 * silent, and asks for nothing when with the thicker feed it is at its lowest. */
static void with_thicker_feed(long number, const struct car *car) {
  char amplifier_text[96], feed_text[96];
  struct tailvolt_setting settings[2] = {{amplifier_text}, {feed_text}};
  struct job thin, thick;
  if (!car->one_feed || !car->no_cut_out || strstr(car->system, "[capacitor") != NULL) return;
  snprintf(amplifier_text, sizeof amplifier_text, "amplifier %s.internal capacitance = 0 F", car_amplifier(0, false));
  snprintf(feed_text, sizeof feed_text, "%s.size = 70 mm2",
           strstr(car->system, car_feed(false)) != NULL ? car_feed(false) : "cable feed");
  if (!open_job(number, car, settings, 1, &thin)) return;
  const struct tailvolt_amplifier_result *before = &thin.result->amplifiers[0];
  if (before->collapses == 0 && open_job(number, car, settings, 2, &thick)) {
    const struct tailvolt_amplifier_result *after = &thick.result->amplifiers[0];
    char what[160];
    thicker++;
    snprintf(what, sizeof what, "a thicker feed lowers the minimum from %.9g V at %.4f s to %.9g V at %.4f s", before->min_v,
             before->min_time_s, after->min_v, after->min_time_s);
    check(after->min_v >= before->min_v - 1e-6, number, car, what);
    close_job(&thick);
  }
  close_job(&thin);
}

/* A quarter of the step, and a quarter of that: the second time the voltages move less. A dip may be shorter than the longest of these
 * steps (an alternator alone with its loads gives way for less than a millisecond before the pack beside it helps; after a jump the first
 * step's mean lies above where it began by half a step of the slope): until a step shows it the lowest voltage is another one's, in the
 * first that does it comes down by any part of what it does in the next. So what has not settled gets two lengths more. Where a cut-out
 * opens, or a relay or a converter moves, a step sooner the runs are no longer the same one. Nor are they where an amplifier falls silent
 * for want of a voltage: up to that power P the voltage is E/2 + sqrt(E^2/4 - R P), and how near to E/2 the last step comes goes with the
 * root of its length. */
static bool settles(const double *v, int last, double slack_v) {
  return fabs(v[last] - v[last - 1]) < 0.6 * fabs(v[last - 1] - v[last - 2]) + slack_v;
}

static void with_finer_steps(long number, const struct car *car, const struct job *job) {
  enum { LENGTHS = 5 };
  double least_v[LENGTHS] = {0}, mean_v[LENGTHS] = {0};
  bool good = false;
  if (!car->no_cut_out || strstr(car->system, "kind = relay") != NULL || strstr(car->system, "kind = converter") != NULL)
    return;
  for (int k = 0; k < LENGTHS && !good; k++) {
    struct tailvolt_options options = options_of();
    struct tailvolt_result *r = NULL;
    options.time_step_s = 1e-3 / (1 << 2 * k);
    if (tailvolt_simulate(job->system, job->profile, &options, &r, NULL) != TAILVOLT_OK) {
      complain(number, car, "no answer with finer steps");
      return;
    }
    int collapses = 0;
    for (int j = 0; j < r->amplifier_count; j++) collapses += r->amplifiers[j].collapses;
    least_v[k] = r->amplifiers[0].min_v;
    mean_v[k] = r->amplifiers[0].mean_v;
    tailvolt_result_free(r);
    if (collapses > 0) return;
    good = k >= 2 && settles(least_v, k, FINER_LEAST_V) && settles(mean_v, k, FINER_MEAN_V);
    if (k == 3) finest++;
  }
  finer++;
  char what[320];
  int used = snprintf(what, sizeof what, "finer steps lead away: lowest and mean");
  for (int k = 0; k < LENGTHS; k++) used += snprintf(what + used, sizeof what - (size_t)used, ", %.6f %.6f V", least_v[k], mean_v[k]);
  check(good, number, car, what);
}

static void test_whatever_the_car(void **state) {
  (void)state;
  static struct car car;
  for (long number = first; number < first + count; number++) {
    struct job job;
    car_make((unsigned long long)number, false, 0, &car);
    tried++;
    if (!open_job(number, &car, NULL, 0, &job)) continue;
    sound_numbers(number, &car, &job);
    if (number % 4 == 0) sound_texts(number, &car, &job);
    if (number % 6 == 0) in_lanes(number, &car, &job);
    if (number % 6 == 1) in_slices(number, &car, &job);
    in_other_order(number, &car, &job);
    with_thicker_feed(number, &car);
    if (number % 32 == 5) with_finer_steps(number, &car, &job);
    close_job(&job);
    if (count > 5000 && number % 5000 == 0) printf("%ld cars, %d faults\n", number, broken), fflush(stdout);
  }
  printf("%ld cars, %ld refused for their battery's label, %ld cut-outs, %ld feeds "
         "made thicker, %ld runs in finer steps, %ld in the finest\n",
         tried, refused, switched, thicker, finer, finest);
  printf("energy within %.1e of what was turned over, ledgers within %.1e V; another order moves %ld amplifiers, by %.1e V at most; "
         "%ld cars hunt\n",
         worst_energy, worst_ledger_v, turned, worst_order_v, drifted);
  assert_int_equal(broken, 0);
  assert_true(refused * 10 < tried && turned * 50 < tried + 50 && drifted * 500 < tried + 500);
  /* the generator reaches what it is for */
  assert_true(tried < 100 || (switched > 10 && thicker > tried / 20));
}

int main(int word_count, char **words) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_whatever_the_car)};
  if (word_count > 1) count = strtol(words[1], NULL, 10);
  if (word_count > 2) first = strtol(words[2], NULL, 10);
  return cmocka_run_group_tests(tests, NULL, NULL);
}
