/* Systems, profiles and runs shared by several tests and the benchmarks.
 *
 * Every run made here has its energy books checked. */
#ifndef TAILVOLT_TEST_SCENES_H
#define TAILVOLT_TEST_SCENES_H

#include "tailvolt/tailvolt.h"

/* A draw in beats: floor_w + peak_w exp(-(t mod beat_s) / decay_s). */
struct scene_beat {
  double floor_w, peak_w, beat_s, decay_s;
};

/* Exact mean of the draw over [from_s, from_s + length_s]; no beat may start inside. */
double scene_beat_mean_w(const struct scene_beat *beat, double from_s, double length_s);

/* From a file below the source directory, or from text; the test fails with the faults where it is
 * refused. */
struct tailvolt_system *scene_read(const char *relative_path);
struct tailvolt_system *scene_parse(const char *text);

/* One row a millisecond, each amplifier drawing its own beat's mean over it as `supply_w`, and a constant
 * base_load_a at the battery's posts. */
struct tailvolt_profile *scene_beats(const struct tailvolt_system *system, const struct scene_beat *beats,
                                     double engine_rpm, double base_load_a, double duration_s);

/* The same beats for the circuit simulator: one source p1, p2 ... whose volts are the draw's watts, and the
 * transient analysis at steps of at most step_s. */
void scene_write_drive(const char *path, const struct scene_beat *beats, int count, double duration_s,
                       double step_s);
bool scene_ngspice_installed(void);

/* Columns as in a profile file. */
struct tailvolt_profile *scene_profile(const struct tailvolt_system *system, const char *text);

struct tailvolt_options scene_isothermal(void);

/* Runs, and checks that the energy books balance to 1e-6 and every ledger to 1 uV. */
struct tailvolt_result *scene_run(const struct tailvolt_system *system,
                                  const struct tailvolt_profile *profile,
                                  const struct tailvolt_options *options);

/* The same from texts. */
struct tailvolt_result *scene_run_texts(const char *system_text, const char *profile_text, const struct tailvolt_options *options);

/* |energy residual| over the energy generated plus drawn from storage */
double scene_energy_residual(const struct tailvolt_result *result);

/* One amplifier `bass` behind series_ohm on a source that holds source_v at any draw; `more` (may be "")
 * continues in the amplifier's section and may open others. The amplifier has no storage and no internal
 * resistance unless `more` gives them; no cut-out. Points: `post`, `amplifier plus`. */
struct tailvolt_system *scene_stiff(double source_v, double series_ohm, const char *more);

/* Runs a scene_stiff() system for duration_s with one value in the profile's column; isothermal. */
struct tailvolt_result *scene_hold(const struct tailvolt_system *system, const char *column, double value,
                                   double duration_s, double step_s);

/* The reference network of the speed and accuracy figures, and its beat. */
extern const struct scene_beat scene_reference_beat;
#define SCENE_REFERENCE_FILE "tests/outside/circuits/one_amplifier.ini"
#define SCENE_REFERENCE_BASE_A 25.0

#endif
