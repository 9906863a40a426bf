/* The public run, driven by a host program. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/run.h"
#include "text/number.h"

struct tailvolt_run {
  struct tv_run *run;
  bool begun, in_row;
  bool other_row;      /* after a restore: the row of the saved state must be put into force again */
  double row_s;        /* time_s of the row in force */
  double stands_s;
};

enum tailvolt_status tailvolt_run_open(const struct tailvolt_system *system, const bool *prescribed,
                                       const struct tailvolt_options *options, struct tailvolt_run **out, char *error) {
  struct tailvolt_options unheard = *options; /* whoever advances it stops by himself */
  unheard.progress = NULL;
  return tv_run_open_like(system, prescribed, &unheard, NULL, NULL, out, error);
}

enum tailvolt_status tv_run_open_like(const struct tailvolt_system *system, const bool *prescribed,
                                      const struct tailvolt_options *options, const struct tv_programmes *shared,
                                      const struct tailvolt_run *like, struct tailvolt_run **out, char *error) {
  char unheard[TAILVOLT_TEXT_MAX];
  if (error == NULL) error = unheard;
  error[0] = '\0';
  *out = NULL;
  if (options->size != sizeof *options) {
    snprintf(error, TAILVOLT_TEXT_MAX, "options must come from tailvolt_default_options()");
    return TAILVOLT_INTERNAL;
  }
  struct tailvolt_run *open = calloc(1, sizeof *open);
  if (open == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tv_run_create_from(system, prescribed, options, shared, like != NULL ? like->run : NULL, &open->run, error);
  if (status != TAILVOLT_OK) {
    free(open);
    return status;
  }
  *out = open;
  return TAILVOLT_OK;
}

void tailvolt_run_close(struct tailvolt_run *open) {
  if (open == NULL) return;
  tv_run_free(open->run);
  free(open);
}

enum tailvolt_status tailvolt_run_begin(struct tailvolt_run *open, const struct tailvolt_row *row) {
  open->run->error[0] = '\0';
  open->in_row = false;
  enum tailvolt_status status = tv_run_begin(open->run, row);
  if (status == TAILVOLT_OK) status = tv_recorder_open(open->run);
  open->begun = status == TAILVOLT_OK;
  open->stands_s = row->time_s;
  return status;
}

enum tailvolt_status tailvolt_run_advance(struct tailvolt_run *open, const struct tailvolt_row *row,
                                          const struct tailvolt_row *next, double to_s) {
  struct tv_run *run = open->run;
  enum tailvolt_status status = TAILVOLT_OK;
  if (!open->begun) {
    snprintf(run->error, sizeof run->error, "the run has not begun");
    return TAILVOLT_BAD_INPUT;
  }
  if (next != NULL && !(next->time_s > row->time_s)) {
    snprintf(run->error, sizeof run->error, "the next row is not later than the one at %s s",
             tv_significant(row->time_s, 6).text);
    return TAILVOLT_BAD_INPUT;
  }
  tv_run_pack(run);
  if (!open->in_row || row->time_s != open->row_s) {
    double end_s = next != NULL ? next->time_s : HUGE_VAL;
    status = tv_run_begin_row(run, row, next, open->stands_s, end_s);
    open->in_row = true;
    open->row_s = row->time_s;
  } else if (open->other_row) {
    tv_run_set_row(run, row, next);
  }
  open->other_row = false;
  if (status == TAILVOLT_OK) status = tv_run_go(run, to_s);
  const struct tv_hot_lane *lane = TV_HOT(run->hot, lane);
  open->stands_s = lane->index >= run->state.now.grid_count ? run->state.now.grid_end_s
                                                            : lane->from_s + lane->index * lane->step_s;
  run->ended_s = open->stands_s;
  return status;
}

double tailvolt_run_time_s(const struct tailvolt_run *open) { return open->stands_s; }
const char *tailvolt_run_error(const struct tailvolt_run *open) { return open->run->error; }

struct tailvolt_reading tailvolt_run_amplifier(const struct tailvolt_run *open, int k) {
  const struct tv_run *run = open->run;
  return (struct tailvolt_reading){tv_run_amplifier_v(run, k), tv_hot_y(run->hot)[run->layout->terminal_a + k]};
}

struct tailvolt_reading tailvolt_run_battery(const struct tailvolt_run *open, int k) {
  return (struct tailvolt_reading){tv_run_battery_v(open->run, k), tv_run_battery_a(open->run, k)};
}

double tailvolt_run_soc_frac(const struct tailvolt_run *open, int k) {
  const struct tv_hot_battery *b = &TV_HOT(open->run->hot, battery)[k];
  return b->charge_c / b->usable_c;
}

struct tailvolt_reading tailvolt_run_alternator(const struct tailvolt_run *open) {
  const struct tv_run *run = open->run;
  if (!run->layout->alternator) return (struct tailvolt_reading){0, 0};
  return (struct tailvolt_reading){tv_hot_y(run->hot)[0], tv_hot_y(run->hot)[run->layout->source_a]};
}

double tailvolt_run_meter_v(const struct tailvolt_run *open, int k) {
  return tv_hot_y(open->run->hot)[open->run->layout->meter_value[k]];
}

struct tailvolt_reading tailvolt_run_conductor(const struct tailvolt_run *open, int k) {
  const struct tv_run *run = open->run;
  double a = run->conductor_sign[k] * tv_hot_y(run->hot)[run->layout->group_value[run->conductor_group[k]]];
  return (struct tailvolt_reading){a * run->state.conductor_ohm[k], a};
}

/* Besides the run's own state: its position within the row. */
struct place { bool in_row; double row_s, stands_s; };

size_t tailvolt_run_state_size(const struct tailvolt_run *open) {
  return sizeof(struct place) + tv_run_state_size(open->run);
}

void tailvolt_run_save(struct tailvolt_run *open, void *state) {
  struct place place;
  memset(&place, 0, sizeof place);
  place = (struct place){open->in_row, open->row_s, open->stands_s};
  tv_run_unpack(open->run);
  memcpy(state, &place, sizeof place);
  tv_run_save(open->run, (char *)state + sizeof place);
}

void tailvolt_run_restore(struct tailvolt_run *open, const void *state) {
  struct place place;
  memcpy(&place, state, sizeof place);
  tv_run_restore(open->run, (const char *)state + sizeof place);
  open->in_row = place.in_row;
  open->row_s = place.row_s;
  open->stands_s = place.stands_s;
  open->other_row = true;
}

enum tailvolt_status tailvolt_run_result(struct tailvolt_run *open, const char *name, struct tailvolt_result **out) {
  open->begun = false;
  return tv_run_finish(open->run, name, out);
}
