/* A host program that drives Tailvolt itself: one second of music at idle, then the driver pulls away, in slices of a
 * twentieth of a second, as a live picture would; and what would have happened had the car stayed. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <tailvolt/tailvolt.h>

static const char CAR[] = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
                          "[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";

static struct tailvolt_run *run;

static void must(enum tailvolt_status status) {
  if (status == TAILVOLT_OK) return;
  fprintf(stderr, "%s: %s\n", tailvolt_status_text(status), run != NULL ? tailvolt_run_error(run) : "");
  exit(1);
}

static void show(void) {
  struct tailvolt_reading bass = tailvolt_run_amplifier(run, 0), alternator = tailvolt_run_alternator(run);
  printf("%.2f s  bass %.2f V %.0f A, alternator %.1f A\n", tailvolt_run_time_s(run), bass.voltage_v, bass.current_a, alternator.current_a);
}

int main(void) {
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_parse(CAR, "car", NULL, 0, &system, &faults) != TAILVOLT_OK) {
    fprintf(stderr, "%s\n", faults.fault[0].message);
    return 1;
  }
  struct tailvolt_options options = tailvolt_default_options();
  must(tailvolt_run_open(system, NULL, &options, &run, NULL));

  struct tailvolt_amplifier_row bass = {.programme = 0, .powered = true, .output_w = NAN, .supply_w = NAN, .supply_a = NAN};
  double *on = calloc((size_t)system->load_count + 1, sizeof *on);
  for (int k = 0; k < system->load_count; k++) on[k] = 1;
  struct tailvolt_row row = {.engine_rpm = 800, .ambient_c = 25, .set_point_v = NAN, .load_on = on, .amplifier = &bass};
  must(tailvolt_run_begin(run, &row));
  for (int k = 1; k <= 20; k++) must(tailvolt_run_advance(run, &row, NULL, 0.05 * k));
  show();

  void *here = malloc(tailvolt_run_state_size(run));
  tailvolt_run_save(run, here);
  struct tailvolt_row road = row; /* takes effect where the run is */
  road.time_s = tailvolt_run_time_s(run);
  road.engine_rpm = 2500;
  must(tailvolt_run_advance(run, &road, NULL, 1.51));
  show();

  tailvolt_run_restore(run, here);
  must(tailvolt_run_advance(run, &row, NULL, 1.51));
  show();

  struct tailvolt_result *result = NULL;
  must(tailvolt_run_result(run, "by hand", &result));
  printf("lowest %.2f V, state of charge %.1f %%\n", result->amplifiers[0].min_v, result->batteries[0].end_soc_pct);
  tailvolt_result_free(result);
  tailvolt_run_close(run);
  tailvolt_system_free(system);
  free(here), free(on);
  return 0;
}
