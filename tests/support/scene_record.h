/* A run's whole record in memory, for tests of its course over time. */
#ifndef TAILVOLT_TEST_SCENE_RECORD_H
#define TAILVOLT_TEST_SCENE_RECORD_H

#include "support/scenes.h"

struct scene_record {
  int column_count, row_count, room;
  char (*names)[TAILVOLT_NAME_MAX + 32];
  double *cells; /* row by row; the first of each is the time at its start */
  struct tailvolt_result *result;
};

/* Runs the profile with a row of the record every `every_s`. The run is checked as by scene_run(). */
void scene_record_run(const struct tailvolt_system *system, const char *profile_text,
                      const struct tailvolt_options *options, double every_s, struct scene_record *record);
void scene_record_free(struct scene_record *record);

int scene_record_column(const struct scene_record *record, const char *name);
/* The row that holds time_s. */
int scene_record_row(const struct scene_record *record, double time_s);
double scene_record_cell(const struct scene_record *record, int row, int column);
double scene_record_at(const struct scene_record *record, const char *name, double time_s);

#endif
