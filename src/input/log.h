/* A log that was read: its profile, and its measured columns with what they stand for. */
#ifndef TV_INPUT_LOG_H
#define TV_INPUT_LOG_H

#include "tailvolt/log.h"

/* Where a column was measured. */
enum tv_log_place { TV_LOG_POINT, TV_LOG_METER, TV_LOG_BATTERY, TV_LOG_AMPLIFIER, TV_LOG_ALTERNATOR, TV_LOG_CONDUCTOR };

struct tv_log_column {
  char name[TAILVOLT_LOG_NAME_MAX]; /* as the header says */
  bool current;
  enum tv_log_place place;
  int item;                      /* of the system's parts; a point's number */
  char point[TAILVOLT_NAME_MAX]; /* of TV_LOG_POINT */
};

struct tailvolt_log {
  char name[TAILVOLT_TEXT_MAX];
  struct tailvolt_profile *profile; /* its rows; it ignores measured columns */
  int column_count;
  struct tv_log_column *columns;
  long row_count;
  double *time_s; /* [row_count] */
  double *value;  /* [row_count][column_count]; NAN = not taken */
  bool drives;    /* it has columns of a profile */
  bool music;     /* it plays some */
};

/* The point of a column in a system that may have gained parts since; TAILVOLT_NOWHERE = not there. */
int tv_log_point(const struct tailvolt_system *system, const struct tv_log_column *column);

/* A column of that name, in another log. */
bool tv_log_same_column(const char *name, const struct tv_log_column *column);

#endif
