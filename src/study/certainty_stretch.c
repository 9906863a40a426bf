/* Rows of a profile cut out and run by a vehicle; which seconds represent a profile. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/run.h"
#include "simulate/worst.h"
#include "study/certainty_parts.h"

void tv_kept_rows_free(struct tv_kept_rows *rows) {
  free(rows->row);
  free(rows->load_on);
  free(rows->amplifier);
  *rows = (struct tv_kept_rows){0};
}

static double between(const struct tailvolt_row *row, const struct tailvolt_row *next, double at_s, double here, double there) {
  double span_s = next->time_s - row->time_s;
  return span_s > 0 ? here + (there - here) * (at_s - row->time_s) / span_s : here;
}

/* A row as it is at a time within it: engine speed and air move to the next row in a straight line. */
static struct tailvolt_row at_time(const struct tailvolt_row *row, const struct tailvolt_row *next, double at_s) {
  struct tailvolt_row moved = *row;
  moved.time_s = at_s;
  if (next == NULL) return moved;
  moved.ambient_c = between(row, next, at_s, row->ambient_c, next->ambient_c);
  if (row->engine_rpm > 0 && next->engine_rpm > 0)
    moved.engine_rpm = between(row, next, at_s, row->engine_rpm, next->engine_rpm);
  return moved;
}

struct growing {
  struct tv_kept_rows rows;
  int room;
  size_t loads, amplifiers;
};

static bool push(struct growing *g, const struct tailvolt_row *row) {
  struct tv_kept_rows *r = &g->rows;
  if (r->count == g->room) {
    size_t room = 2 * (size_t)g->room + 8;
    struct tailvolt_row *more = realloc(r->row, room * sizeof *more);
    if (more != NULL) r->row = more;
    double *load_on = realloc(r->load_on, (room * g->loads + 1) * sizeof *load_on);
    if (load_on != NULL) r->load_on = load_on;
    struct tailvolt_amplifier_row *amplifier = realloc(r->amplifier, (room * g->amplifiers + 1) * sizeof *amplifier);
    if (amplifier != NULL) r->amplifier = amplifier;
    if (more == NULL || load_on == NULL || amplifier == NULL) return false;
    g->room = (int)room;
  }
  size_t at = (size_t)r->count++;
  r->row[at] = *row;
  if (g->loads > 0) memcpy(r->load_on + at * g->loads, row->load_on, g->loads * sizeof *r->load_on);
  if (g->amplifiers > 0) memcpy(r->amplifier + at * g->amplifiers, row->amplifier, g->amplifiers * sizeof *r->amplifier);
  return true;
}

enum tailvolt_status tv_kept_rows_read(const struct tailvolt_system *system, const struct tailvolt_profile *profile, double from_s,
                                  double to_s, struct tv_kept_rows *rows) {
  struct growing g = {.loads = (size_t)system->load_count, .amplifiers = (size_t)system->amplifier_count};
  struct tailvolt_profile_cursor *cursor;
  const struct tailvolt_row *row = NULL, *next = NULL;
  bool room = true;
  *rows = (struct tv_kept_rows){0};
  enum tailvolt_status status = tailvolt_profile_open(profile, &cursor);
  if (status != TAILVOLT_OK) return status;
  status = tailvolt_profile_next(cursor, &row);
  while (status == TAILVOLT_OK && row != NULL && room) {
    if ((status = tailvolt_profile_next(cursor, &next)) != TAILVOLT_OK) break;
    double end_s = next != NULL ? next->time_s : row->time_s;
    if (end_s > from_s && row->time_s < to_s) {
      struct tailvolt_row cut = at_time(row, next, fmax(row->time_s, from_s));
      room = push(&g, &cut);
    }
    /* the last one only ends the row before it */
    bool ends = row->time_s < to_s && (next == NULL || end_s >= to_s);
    if (ends && room) {
      struct tailvolt_row last = at_time(row, next, fmin(end_s, to_s));
      room = next == NULL && g.rows.count > 0 && g.rows.row[g.rows.count - 1].time_s >= last.time_s ? room : push(&g, &last);
    }
    if (ends || next == NULL) break;
    row = next;
  }
  tailvolt_profile_close(cursor);
  if (status == TAILVOLT_OK && !room) status = TAILVOLT_NO_MEMORY;
  if (status != TAILVOLT_OK) tv_kept_rows_free(&g.rows);
  for (int k = 0; k < g.rows.count; k++) {
    g.rows.row[k].load_on = g.rows.load_on + (size_t)k * g.loads;
    g.rows.row[k].amplifier = g.rows.amplifier + (size_t)k * g.amplifiers;
  }
  *rows = g.rows;
  return status;
}

enum tailvolt_status tv_kept_rows_profile(const struct tv_kept_rows *rows, const struct tailvolt_system *system,
                                          struct tv_vehicle_rows more, struct tailvolt_profile **out) {
  struct tailvolt_row *row = malloc((size_t)rows->count * sizeof *row + 1);
  if (row == NULL) return TAILVOLT_NO_MEMORY;
  /* the system already has the vehicle's idle speed */
  double idles_to_rpm = TV_IDLE_SPAN * system->engine.idle_rpm / more.idle_ratio;
  for (int k = 0; k < rows->count; k++) {
    row[k] = rows->row[k];
    if (row[k].engine_rpm > 0 && row[k].engine_rpm <= idles_to_rpm) row[k].engine_rpm *= more.idle_ratio;
    row[k].ambient_c += more.ambient_more_k;
  }
  enum tailvolt_status status = tailvolt_profile_from_rows(row, rows->count, "", system, out);
  free(row);
  return status;
}

/* ---- which seconds ---- */

#define BEFORE_S 4.0      /* the fast polarization settles within this */
#define AFTER_S 1.5
#define COULD_DECIDE_V 1.5 /* a phase this much better than the worst decides for a negligible number of vehicles */

static int phase_of(const struct tailvolt_system *system, double engine_rpm) {
  if (engine_rpm <= 0) return TAILVOLT_PARKED;
  return engine_rpm <= TV_IDLE_SPAN * system->engine.idle_rpm ? TAILVOLT_IDLE : TAILVOLT_ROAD;
}

/* Seconds spent in each phase before a time, and since when the phase at that time has lasted. */
static enum tailvolt_status spent_before(const struct tailvolt_system *system, const struct tailvolt_profile *profile, double at_s,
                                         double phase_s[TAILVOLT_PHASES], double *since_s) {
  struct tailvolt_profile_cursor *cursor;
  const struct tailvolt_row *row = NULL, *next = NULL;
  int last = -1;
  memset(phase_s, 0, TAILVOLT_PHASES * sizeof *phase_s);
  *since_s = tailvolt_profile_start_s(profile);
  enum tailvolt_status status = tailvolt_profile_open(profile, &cursor);
  if (status != TAILVOLT_OK) return status;
  status = tailvolt_profile_next(cursor, &row);
  while (status == TAILVOLT_OK && row != NULL && row->time_s <= at_s) {
    int phase = phase_of(system, row->engine_rpm);
    if (phase != last) *since_s = row->time_s;
    last = phase;
    if ((status = tailvolt_profile_next(cursor, &next)) != TAILVOLT_OK || next == NULL) break;
    phase_s[phase] += fmin(next->time_s, at_s) - row->time_s;
    row = next;
  }
  tailvolt_profile_close(cursor);
  return status;
}

static enum tailvolt_status add_stretch(struct tv_certainty_plan *plan, int profile, int phase, double at_s) {
  size_t amplifiers = (size_t)plan->system->amplifier_count + 1;
  struct tv_stretch *more = realloc(plan->stretches, (size_t)(plan->stretch_count + 1) * sizeof *more);
  if (more == NULL) return TAILVOLT_NO_MEMORY;
  plan->stretches = more;
  struct tv_stretch *s = &more[plan->stretch_count];
  *s = (struct tv_stretch){.profile = profile, .phase = phase, .at_s = at_s};
  s->margin_more_v = calloc(amplifiers, sizeof *s->margin_more_v);
  s->min_more_v = calloc(amplifiers, sizeof *s->min_more_v);
  plan->stretch_count++;
  if (s->margin_more_v == NULL || s->min_more_v == NULL) return TAILVOLT_NO_MEMORY;
  double since_s;
  const struct tailvolt_profile *of = plan->profiles[profile];
  enum tailvolt_status status = spent_before(plan->system, of, at_s, s->phase_s, &since_s);
  if (status != TAILVOLT_OK) return status;
  double from_s = fmax(at_s - BEFORE_S, since_s), to_s = fmin(fmax(at_s, from_s + BEFORE_S) + AFTER_S, tailvolt_profile_end_s(of));
  return tv_kept_rows_read(plan->system, of, from_s, to_s, &s->rows);
}

enum tailvolt_status tv_stretches_choose(struct tv_certainty_plan *plan, int profile, const struct tailvolt_result *result,
                                         double worst_margin_v) {
  for (int phase = 0; phase < TAILVOLT_PHASES; phase++) {
    int first = plan->stretch_count;
    for (int a = 0; a < result->amplifier_count && result->phases[phase].present; a++) {
      const struct tailvolt_amplifier_phase *p = &result->amplifiers[a].phase[phase];
      bool known = false;
      if (!(p->play_s > 0) || tv_phase_margin_v(result, a, phase) > worst_margin_v + COULD_DECIDE_V) continue;
      for (int s = first; s < plan->stretch_count && !known; s++)
        known = fabs(plan->stretches[s].at_s - p->min_time_s) < AFTER_S;
      if (known) continue;
      enum tailvolt_status status = add_stretch(plan, profile, phase, p->min_time_s);
      if (status != TAILVOLT_OK) return status;
    }
  }
  return TAILVOLT_OK;
}
