/* What every simulating command does first: read the system, the profiles and the run's options, and run with
 * progress. All print what is wrong and return an exit code. */
#ifndef TV_COMMAND_RUN_H
#define TV_COMMAND_RUN_H

#include "command/commands.h"

/* Reads a system file with the --set overrides given. */
int tv_load_system(const struct tv_invocation *invocation, const char *path,
                   struct tailvolt_system **out);

/* The same from a text that is kept, for commands that change it or try settings on it; standard input can be read only once.
 * Also on failure the caller frees text, settings and system. */
int tv_load_system_text(const struct tv_invocation *invocation, const char *path, char **text,
                        struct tailvolt_setting **settings, int *setting_count, struct tailvolt_system **out);

/* How long a run of hours will take, before it begins; nothing is said of a short one. */
void tv_note_long_run(const struct tv_invocation *invocation, const char *name, const char *of_what, double span_s);

/* Seconds of a profile that a car drawn like another runs through, and that a search for a playing time does: each about, and only to
 * say how long a study takes. */
double tv_car_span_s(const struct tailvolt_profile *profile);
#define TV_PLAYING_SPAN_S 1000.0
/* The same for many cars, each run through the profiles. */
void tv_note_long_draw(const struct tv_invocation *invocation, const char *name, const struct tailvolt_profile *const *profiles, int count,
                       int vehicles);

/* Reads a profile with --columns. */
int tv_load_profile(const struct tv_invocation *invocation, const char *path,
                    const struct tailvolt_system *system, struct tailvolt_profile **out);
/* The same for an evening parked, which is followed in long steps and not beyond its end: its length says nothing of the time. */
int tv_load_evening(const struct tv_invocation *invocation, const char *path,
                    const struct tailvolt_system *system, struct tailvolt_profile **out);

#define TV_STANDARD_PROFILES TAILVOLT_STANDARD_PROFILES
/* The profiles of a run for which none was given: idle at night in the rain and on the road; where
 * nothing charges, parked alone. `out` has room for TV_STANDARD_PROFILES. */
int tv_standard_profiles(const struct tv_invocation *invocation, const struct tailvolt_system *system, struct tailvolt_profile **out,
                         int *count);

/* Options of the simulation from --time-step, --seed, --settle, --isothermal, --blow. */
int tv_run_options(const struct tv_invocation *invocation, struct tailvolt_options *options);

/* The --set overrides as given; *count gets their number. Free with free(); NULL = out of memory,
 * reported. */
struct tailvolt_setting *tv_settings(const struct tv_invocation *invocation, int *count);

/* Says why a run or a study of a system failed: a fault of the system by file, line and part, anything else as `error` has it
 * ("" = the status in words), after `about` (may be NULL). Returns the exit code. */
int tv_run_failed(const struct tailvolt_system *system, const char *about, enum tailvolt_status status, const char *error);

/* Simulates with progress on the terminal; Ctrl-C stops it (TV_EXIT_STOPPED). */
int tv_run(const struct tv_invocation *invocation, const struct tailvolt_system *system,
           const struct tailvolt_profile *profile, struct tailvolt_options options,
           struct tailvolt_result **out);

/* A profile that is mostly engine off tells how far the volts fall, not whether the car starts: asks the parked study as
 * well. */
int tv_ask_parked(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                  const struct tailvolt_options *options, struct tailvolt_result *result);

#endif
