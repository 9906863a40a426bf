/* Whole runs of 60 s against a general-purpose circuit simulator (ngspice, batch mode).
 *
 * circuits/NAME.ini is the system, circuits/NAME.cir the netlist of the same circuit. One table here drives
 * both: the netlist gets the power as a formula of time, the profile its exact mean over each row. ngspice's
 * waveform is averaged over each of our steps, since our values are step means. Where ngspice is not
 * installed its stored values in circuits/values.csv are used; where it is, they are checked too.
 * `test_outside_circuits --write` renews the stored values. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/scenes.h"

#define CIRCUITS TAILVOLT_SOURCE_DIR "/tests/outside/circuits"
#define DURATION_S 60.0
#define ENDS 2 /* at most this many amplifiers and batteries */

/* The note's circuit: speaker power switched between two levels. */
#define NOTE_LOUD_W 700.0
#define NOTE_QUIET_W 50.0
#define NOTE_LOUD_S 0.3
#define NOTE_BEAT_S 0.5

struct circuit {
  const char *name;
  double engine_rpm;
  int amplifiers, batteries;
  struct scene_beat beat[ENDS]; /* beat_s = 0: the note */
  double step_s;
  double netlist_step_s;
  double min_tolerance_v;
};

#define BEAT                                                                                                 \
  { 15, 1200, 0.5, 0.12 }

static const struct circuit circuits[] = {
    {"one_amplifier", 2000, 1, 1, {BEAT}, 1e-3, 0.25e-3, 2e-3},
    {"capacitor", 2000, 1, 1, {BEAT}, 1e-3, 0.25e-3, 2e-3},
    {"note", 2000, 1, 1, {{0, 0, 0, 0}}, 1e-4, 0.1e-3, 5e-3},
    {"engine_off", 0, 1, 1, {BEAT}, 1e-3, 0.25e-3, 2e-3},
    {"two_amplifiers", 2000, 2, 1, {{10, 700, 0.5, 0.12}, {10, 450, 0.375, 0.08}}, 1e-3, 0.25e-3, 2e-3},
    {"diode", 2000, 1, 2, {BEAT}, 1e-3, 0.25e-3, 2e-3},
    {"limit_and_regulation", 2000, 1, 1, {BEAT}, 1e-3, 0.25e-3, 2e-3},
    {"field", 2000, 1, 1, {BEAT}, 1e-3, 0.25e-3, 2e-3},
};
#define CIRCUIT_COUNT (sizeof circuits / sizeof circuits[0])
#define BASE_A 25.0

/* What is compared. */
struct reading {
  double rest_v[ENDS], min_v[ENDS], mean_v[ENDS];
  double out_frac[ENDS]; /* share of a battery's charge taken out */
};

/* ---- the circuit simulator's side ---- */

static void write_drive(const struct circuit *circuit, const char *path) {
  if (circuit->beat[0].beat_s > 0) {
    scene_write_drive(path, circuit->beat, circuit->amplifiers, DURATION_S, circuit->netlist_step_s);
    return;
  }
  FILE *file = fopen(path, "w");
  assert_non_null(file);
  fprintf(file, "Vp1 p1 0 PULSE(%.17g %.17g 0 1n 1n %.17g %.17g)\n.tran 1m %.17g 0 %.17g\n", NOTE_QUIET_W,
          NOTE_LOUD_W, NOTE_LOUD_S, NOTE_BEAT_S, DURATION_S, circuit->netlist_step_s);
  assert_int_equal(fclose(file), 0);
}

struct waveform {
  int columns;
  long points;
  char name[8][32];
  double *value; /* points x columns; column 0 is the time */
};

/* ngspice's binary raw file: a text header, then rows of doubles. */
static struct waveform read_raw(const char *path) {
  struct waveform w = {0};
  FILE *file = fopen(path, "rb");
  assert_non_null(file);
  char line[256];
  while (fgets(line, sizeof line, file) != NULL && strncmp(line, "Binary:", 7) != 0) {
    int index;
    char name[32];
    sscanf(line, "No. Variables: %d", &w.columns);
    sscanf(line, "No. Points: %ld", &w.points);
    if (line[0] == '\t' && sscanf(line, " %d %31s", &index, name) == 2 && index >= 0 && index < 8)
      strcpy(w.name[index], name);
  }
  assert_in_range(w.columns, 3, 8);
  assert_true(w.points > 1000);
  size_t count = (size_t)w.points * (size_t)w.columns;
  w.value = malloc(count * sizeof *w.value);
  assert_non_null(w.value);
  assert_int_equal(fread(w.value, sizeof *w.value, count, file), count);
  fclose(file);
  return w;
}

static int column_of(const struct waveform *w, const char *name) {
  for (int k = 1; k < w->columns; k++)
    if (strcmp(w->name[k], name) == 0) return k;
  fail_msg("no column %s in the waveform", name);
  return 0;
}

/* Step means of the straight lines between the points; their minimum and mean. */
static void step_means(const struct waveform *w, int column, double step_s, double *min_v, double *mean_v) {
  long steps = lround(DURATION_S / step_s);
  double *bin = calloc((size_t)steps, sizeof *bin);
  assert_non_null(bin);
  for (long k = 1; k < w->points; k++) {
    const double *a = w->value + (k - 1) * w->columns, *b = a + w->columns;
    double slope = (b[column] - a[column]) / (b[0] - a[0]), from_s = a[0];
    while (from_s < b[0]) {
      long step = (long)floor(from_s / step_s + 1e-6);
      double to_s = fmin(b[0], (double)(step + 1) * step_s);
      if (to_s <= from_s) to_s = b[0];
      double middle_v = a[column] + slope * (0.5 * (from_s + to_s) - a[0]);
      if (step < steps) bin[step] += middle_v * (to_s - from_s) / step_s;
      from_s = to_s;
    }
  }
  double sum_v = 0;
  *min_v = bin[0];
  for (long k = 0; k < steps; k++) {
    sum_v += bin[k];
    *min_v = fmin(*min_v, bin[k]);
  }
  *mean_v = sum_v / (double)steps;
  free(bin);
}

static void run_ngspice(const struct circuit *circuit, struct reading *reading) {
  char folder[] = "/tmp/tailvolt-circuits-XXXXXX", path[128], command[1024];
  assert_non_null(mkdtemp(folder));
  snprintf(path, sizeof path, "%s/drive.inc", folder);
  write_drive(circuit, path);
  snprintf(command, sizeof command,
           "cp '%s/battery.inc' '%s/%s.cir' '%s' && cd '%s' && ngspice -b -r out.raw %s.cir "
           ">out.log 2>&1",
           CIRCUITS, CIRCUITS, circuit->name, folder, folder, circuit->name);
  if (system(command) != 0) fail_msg("ngspice failed on %s, see %s/out.log", circuit->name, folder);
  snprintf(path, sizeof path, "%s/out.raw", folder);
  struct waveform w = read_raw(path);
  const double *last = w.value + (w.points - 1) * w.columns;
  assert_near(last[0], DURATION_S, 1e-9);
  static const char *const voltage[ENDS] = {"v(va)", "v(vb)"}, *const out[ENDS] = {"v(out1)", "v(out2)"};
  for (int k = 0; k < circuit->amplifiers; k++) {
    int column = column_of(&w, voltage[k]);
    reading->rest_v[k] = w.value[column];
    step_means(&w, column, circuit->step_s, &reading->min_v[k], &reading->mean_v[k]);
  }
  for (int k = 0; k < circuit->batteries; k++) reading->out_frac[k] = last[column_of(&w, out[k])];
  free(w.value);
  snprintf(command, sizeof command, "rm -r '%s'", folder);
  assert_int_equal(system(command), 0);
}

/* ---- stored values: circuit,quantity,number,value ---- */

static double *quantity(struct reading *reading, const char *name) {
  if (strcmp(name, "rest_v") == 0) return reading->rest_v;
  if (strcmp(name, "min_v") == 0) return reading->min_v;
  if (strcmp(name, "mean_v") == 0) return reading->mean_v;
  if (strcmp(name, "out_frac") == 0) return reading->out_frac;
  return NULL;
}

static void read_stored(const struct circuit *circuit, struct reading *reading) {
  FILE *file = fopen(CIRCUITS "/values.csv", "r");
  assert_non_null(file);
  char line[256], name[64], what[32];
  int number, found = 0;
  double value;
  while (fgets(line, sizeof line, file) != NULL) {
    if (sscanf(line, "%63[^,],%31[^,],%d,%lf", name, what, &number, &value) != 4) continue;
    if (strcmp(name, circuit->name) != 0) continue;
    double *place = quantity(reading, what);
    assert_non_null(place);
    assert_in_range(number, 0, ENDS - 1);
    place[number] = value;
    found++;
  }
  fclose(file);
  assert_int_equal(found, 3 * circuit->amplifiers + circuit->batteries);
}

static void write_rows(FILE *file, const struct circuit *circuit, const struct reading *reading) {
  for (int k = 0; k < circuit->amplifiers; k++)
    fprintf(file, "%s,rest_v,%d,%.9f\n%s,min_v,%d,%.9f\n%s,mean_v,%d,%.9f\n", circuit->name, k,
            reading->rest_v[k], circuit->name, k, reading->min_v[k], circuit->name, k, reading->mean_v[k]);
  for (int k = 0; k < circuit->batteries; k++)
    fprintf(file, "%s,out_frac,%d,%.11f\n", circuit->name, k, reading->out_frac[k]);
}

static void write_stored(void **state) {
  (void)state;
  if (!scene_ngspice_installed()) fail_msg("ngspice is not installed");
  char version[128] = "version not known";
  FILE *pipe = popen("ngspice --version | sed -n 's/^\\*\\* \\(ngspice-[0-9.]*\\).*/\\1/p'", "r");
  assert_non_null(pipe);
  if (fgets(version, sizeof version, pipe) != NULL) version[strcspn(version, "\n")] = 0;
  pclose(pipe);
  FILE *file = fopen(CIRCUITS "/values.csv", "w");
  assert_non_null(file);
  fprintf(file, "# %s; written by test_outside_circuits --write\ncircuit,quantity,number,value\n", version);
  for (size_t k = 0; k < CIRCUIT_COUNT; k++) {
    struct reading reading = {0};
    run_ngspice(&circuits[k], &reading);
    write_rows(file, &circuits[k], &reading);
  }
  assert_int_equal(fclose(file), 0);
}

/* ---- our side ---- */

static struct tailvolt_profile *note_profile(const struct tailvolt_system *system) {
  int beats = (int)lround(DURATION_S / NOTE_BEAT_S);
  size_t room = (size_t)beats * 128 + 256, used = 0;
  char *text = malloc(room);
  assert_non_null(text);
  used += (size_t)snprintf(text, room, "time_s,engine_rpm,base_load_a,output_w:bass\n");
  for (int k = 0; k < beats; k++)
    used += (size_t)snprintf(text + used, room - used, "%.6f,2000,%g,%g\n%.6f,2000,%g,%g\n", k * NOTE_BEAT_S,
                             BASE_A, NOTE_LOUD_W, k * NOTE_BEAT_S + NOTE_LOUD_S, BASE_A, NOTE_QUIET_W);
  snprintf(text + used, room - used, "%.6f,2000,%g,%g\n", DURATION_S, BASE_A, NOTE_QUIET_W);
  struct tailvolt_profile *profile = scene_profile(system, text);
  free(text);
  return profile;
}

static void run_ours(const struct circuit *circuit, struct reading *reading) {
  char path[128];
  snprintf(path, sizeof path, "tests/outside/circuits/%s.ini", circuit->name);
  struct tailvolt_system *system = scene_read(path);
  assert_int_equal(system->amplifier_count, circuit->amplifiers);
  assert_int_equal(system->battery_count, circuit->batteries);
  struct tailvolt_profile *profile =
      circuit->beat[0].beat_s > 0
          ? scene_beats(system, circuit->beat, circuit->engine_rpm, BASE_A, DURATION_S)
          : note_profile(system);
  struct tailvolt_options options = scene_isothermal();
  options.time_step_s = circuit->step_s;
  struct tailvolt_result *result = scene_run(system, profile, &options);
  for (int k = 0; k < circuit->amplifiers; k++) {
    reading->rest_v[k] = result->amplifiers[k].rest_v;
    reading->min_v[k] = result->amplifiers[k].min_v;
    reading->mean_v[k] = result->amplifiers[k].mean_v;
  }
  for (int k = 0; k < circuit->batteries; k++)
    reading->out_frac[k] = (result->batteries[k].start_soc_pct - result->batteries[k].end_soc_pct) / 100;
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

static void check_circuit(void **state) {
  const struct circuit *circuit = *state;
  struct reading ours = {0}, theirs = {0}, stored = {0};
  read_stored(circuit, &stored);
  bool installed = scene_ngspice_installed();
  theirs = stored;
  if (installed)
    run_ngspice(circuit, &theirs);
  else
    print_message("ngspice is not installed: its stored values are used\n");
  run_ours(circuit, &ours);
  for (int k = 0; k < circuit->amplifiers; k++) {
    print_message("%s[%d]: min %.6f V (%+.3f mV), mean %.6f V (%+.3f mV)\n", circuit->name, k, ours.min_v[k],
                  1e3 * (ours.min_v[k] - theirs.min_v[k]), ours.mean_v[k],
                  1e3 * (ours.mean_v[k] - theirs.mean_v[k]));
    /* another release of the simulator may step differently, but by less than a tenth of the tolerance
     * below */
    assert_near(stored.min_v[k], theirs.min_v[k], 2e-4);
    assert_near(stored.mean_v[k], theirs.mean_v[k], 1e-4);
    assert_near(ours.rest_v[k], theirs.rest_v[k], 1e-3);
    assert_near(ours.min_v[k], theirs.min_v[k], circuit->min_tolerance_v);
    assert_near(ours.mean_v[k], theirs.mean_v[k], 1e-3);
  }
  for (int k = 0; k < circuit->batteries; k++) {
    print_message("%s[%d]: charge taken out %.8f (%+.1e)\n", circuit->name, k, ours.out_frac[k],
                  ours.out_frac[k] - theirs.out_frac[k]);
    assert_near(stored.out_frac[k], theirs.out_frac[k], 1e-6);
    assert_near(ours.out_frac[k], theirs.out_frac[k], 1e-5);
  }
}

int main(int argc, char **argv) {
  if (argc > 1 && strcmp(argv[1], "--write") == 0) {
    const struct CMUnitTest write[] = {cmocka_unit_test(write_stored)};
    return cmocka_run_group_tests_name("write the stored values", write, NULL, NULL);
  }
  struct CMUnitTest tests[CIRCUIT_COUNT];
  for (size_t k = 0; k < CIRCUIT_COUNT; k++)
    tests[k] = (struct CMUnitTest){
        .name = circuits[k].name, .test_func = check_circuit, .initial_state = (void *)(size_t)&circuits[k]};
  return cmocka_run_group_tests_name("against a circuit simulator", tests, NULL, NULL);
}
