#include "support/scene_record.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"

static int take_columns(void *context, const char *const *names, int count) {
  struct scene_record *record = context;
  record->column_count = count;
  record->names = calloc((size_t)count, sizeof *record->names);
  if (record->names == NULL) return 1;
  for (int k = 0; k < count; k++) snprintf(record->names[k], sizeof record->names[k], "%s", names[k]);
  return 0;
}

static int take_row(void *context, const double *cells, int count) {
  struct scene_record *record = context;
  if (record->row_count == record->room) {
    record->room = record->room > 0 ? 2 * record->room : 1024;
    double *more = realloc(record->cells, (size_t)record->room * (size_t)count * sizeof *more);
    if (more == NULL) return 1;
    record->cells = more;
  }
  memcpy(record->cells + (size_t)record->row_count++ * (size_t)count, cells, (size_t)count * sizeof *cells);
  return 0;
}

void scene_record_run(const struct tailvolt_system *system, const char *profile_text,
                      const struct tailvolt_options *options, double every_s, struct scene_record *record) {
  memset(record, 0, sizeof *record);
  struct tailvolt_profile *profile = scene_profile(system, profile_text);
  struct tailvolt_record_sink sink = {record, take_columns, take_row};
  struct tailvolt_options own = *options;
  own.record_every_s = every_s;
  own.record = &sink;
  record->result = scene_run(system, profile, &own);
  tailvolt_profile_free(profile);
}

void scene_record_free(struct scene_record *record) {
  tailvolt_result_free(record->result);
  free(record->names);
  free(record->cells);
  memset(record, 0, sizeof *record);
}

int scene_record_column(const struct scene_record *record, const char *name) {
  for (int k = 0; k < record->column_count; k++)
    if (strcmp(record->names[k], name) == 0) return k;
  fail_msg("the record has no column %s", name);
  return 0;
}

double scene_record_cell(const struct scene_record *record, int row, int column) {
  assert_true(row >= 0 && row < record->row_count);
  return record->cells[(size_t)row * (size_t)record->column_count + (size_t)column];
}

int scene_record_row(const struct scene_record *record, double time_s) {
  int row = 0;
  while (row + 1 < record->row_count && scene_record_cell(record, row + 1, 0) <= time_s + 1e-9) row++;
  return row;
}

double scene_record_at(const struct scene_record *record, const char *name, double time_s) {
  return scene_record_cell(record, scene_record_row(record, time_s), scene_record_column(record, name));
}
