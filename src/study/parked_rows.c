/* What is played: a profile's rows, or one row for ever. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/parked.h"

static enum tailvolt_status allocate(const struct tailvolt_system *system, int count,
                                     struct tv_parked_rows *rows) {
  size_t n = (size_t)count + 1, loads = (size_t)system->load_count,
         amplifiers = (size_t)system->amplifier_count;
  memset(rows, 0, sizeof *rows);
  rows->row = calloc(n, sizeof *rows->row);
  rows->load_on = calloc(n * loads + 1, sizeof(double));
  rows->amplifier = calloc(n * amplifiers + 1, sizeof *rows->amplifier);
  rows->prescribed = calloc(amplifiers + 1, sizeof(bool));
  if (!rows->row || !rows->load_on || !rows->amplifier || !rows->prescribed) {
    tv_parked_rows_free(rows);
    return TAILVOLT_NO_MEMORY;
  }
  for (size_t k = 0; k < n; k++) {
    rows->row[k].load_on = rows->load_on + k * loads;
    rows->row[k].amplifier = rows->amplifier + k * amplifiers;
  }
  return TAILVOLT_OK;
}

void tv_parked_rows_free(struct tv_parked_rows *rows) {
  free(rows->row);
  free(rows->load_on);
  free(rows->amplifier);
  free(rows->prescribed);
  memset(rows, 0, sizeof *rows);
}

static void set_row(const struct tailvolt_system *system, const struct tailvolt_parked_options *options,
                    const struct tailvolt_row *from, struct tv_parked_rows *rows, int k) {
  struct tailvolt_row *to = &rows->row[k];
  double *load_on = rows->load_on + (size_t)k * (size_t)system->load_count;
  struct tailvolt_amplifier_row *plays = rows->amplifier + (size_t)k * (size_t)system->amplifier_count;
  memcpy(load_on, from->load_on, (size_t)system->load_count * sizeof *load_on);
  memcpy(plays, from->amplifier, (size_t)system->amplifier_count * sizeof *plays);
  *to = *from;
  to->load_on = load_on;
  to->amplifier = plays;
  if (!isnan(options->ambient_c)) to->ambient_c = options->ambient_c;
  to->ambient_c += options->ambient_shift_k;
  for (int a = 0; a < system->amplifier_count; a++) plays[a].level_db += options->level_db;
}

static enum tailvolt_status steady(const struct tailvolt_system *system,
                                   const struct tailvolt_parked_options *options,
                                   struct tv_parked_rows *rows) {
  enum tailvolt_status status = allocate(system, 2, rows);
  if (status != TAILVOLT_OK) return status;
  struct tailvolt_amplifier_row *plays = rows->amplifier + system->amplifier_count; /* the spare row's */
  for (int k = 0; k < system->amplifier_count; k++) {
    int own = system->amplifiers[k].programme;
    int chosen = options->programme >= 0 ? options->programme : 0;
    plays[k] = (struct tailvolt_amplifier_row){.programme = own >= 0                      ? own
                                                            : system->programme_count > 0 ? chosen
                                                                                          : TAILVOLT_SILENCE,
                                               .powered = true,
                                               .output_w = (double)NAN,
                                               .supply_w = (double)NAN,
                                               .supply_a = (double)NAN};
  }
  struct tailvolt_row row = {.ambient_c = system->vehicle.ambient_c,
                             .set_point_v = (double)NAN,
                             .load_on = rows->load_on + system->load_count,
                             .amplifier = plays};
  set_row(system, options, &row, rows, 0);
  rows->count = 1;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_parked_rows_make(const struct tailvolt_system *system,
                                         const struct tailvolt_profile *profile,
                                         const struct tailvolt_parked_options *options,
                                         struct tv_parked_rows *rows, char *error) {
  if (profile == NULL) return steady(system, options, rows);
  long count = tailvolt_profile_row_count(profile);
  if (count > 2000000) {
    snprintf(error, TAILVOLT_TEXT_MAX, "a profile of %ld rows is too long for this study", count);
    return TAILVOLT_BAD_INPUT;
  }
  struct tailvolt_profile_cursor *cursor;
  enum tailvolt_status status = allocate(system, (int)count, rows);
  if (status != TAILVOLT_OK) return status;
  for (int k = 0; k < system->amplifier_count; k++)
    rows->prescribed[k] = tailvolt_profile_prescribes(profile, k);
  if ((status = tailvolt_profile_open(profile, &cursor)) == TAILVOLT_OK) {
    const struct tailvolt_row *row;
    while ((status = tailvolt_profile_next(cursor, &row)) == TAILVOLT_OK && row != NULL &&
           rows->count < count) {
      if (row->engine_rpm > 0) {
        snprintf(error, TAILVOLT_TEXT_MAX, "the engine runs at %.0f s: this study is about a parked car",
                 row->time_s);
        status = TAILVOLT_BAD_INPUT;
        break;
      }
      set_row(system, options, row, rows, rows->count++);
    }
    tailvolt_profile_close(cursor);
  }
  if (status == TAILVOLT_OK && rows->count >= 2) {
    /* the last row only ends the profile: what played before it goes on, in the air that it names */
    struct tailvolt_row *last = &rows->row[rows->count - 1], *before = last - 1;
    if (last->ambient_c == before->ambient_c) {
      rows->count--;
    } else {
      double time_s = last->time_s, ambient_c = last->ambient_c;
      *last = *before;
      last->time_s = time_s;
      last->ambient_c = ambient_c;
    }
  }
  if (status != TAILVOLT_OK) tv_parked_rows_free(rows);
  return status;
}

int tv_parked_row_at(const struct tv_parked_rows *rows, double time_s) {
  int low = 0, high = rows->count - 1;
  while (low < high) {
    int middle = (low + high + 1) / 2;
    if (rows->row[middle].time_s <= time_s)
      low = middle;
    else
      high = middle - 1;
  }
  return low;
}

double tv_parked_row_end_s(const struct tv_parked_rows *rows, int index) {
  return index + 1 < rows->count ? rows->row[index + 1].time_s : HUGE_VAL;
}

const struct tailvolt_row *tv_parked_row_next(const struct tv_parked_rows *rows, int index) {
  return index + 1 < rows->count ? &rows->row[index + 1] : NULL;
}

double tv_parked_ambient_c(const struct tv_parked_rows *rows, double time_s) {
  int k = tv_parked_row_at(rows, time_s);
  const struct tailvolt_row *row = &rows->row[k], *next = tv_parked_row_next(rows, k);
  if (next == NULL || time_s <= row->time_s) return row->ambient_c;
  return row->ambient_c +
         (next->ambient_c - row->ambient_c) * (time_s - row->time_s) / (next->time_s - row->time_s);
}
