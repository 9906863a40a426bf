/* A profile that was read: its rows in memory, row-major, or the open file they are read from again. */
#ifndef TV_INPUT_PROFILE_STORE_H
#define TV_INPUT_PROFILE_STORE_H

#include <stdio.h>
#include <sys/stat.h>

#include "input/profile_columns.h"
#include "tailvolt/profile.h"

/* rows that take more are not kept in memory */
#define TV_PROFILE_HELD_BYTES ((size_t)4 * 1024 * 1024)

struct tailvolt_profile {
  char name[TAILVOLT_TEXT_MAX];
  struct tv_profile_parts parts;
  struct tv_profile_columns columns;
  double start_s, end_s;
  long row_count;
  bool *prescribed; /* [amplifier_count] */
  bool *constant;   /* [columns.count]: the same in every row; all false when streamed */
  double *values;   /* [row_count][columns.count], NULL = streamed */
  /* streamed */
  int file;          /* descriptor, -1 = none */
  FILE *spool;       /* owns `file` where the input could not be read twice */
  struct stat state; /* of the file when it was checked */
  off_t rows_at;     /* first byte after the header */
  int rows_line;     /* number of the header's line */
  size_t line_room;  /* for the longest line */
};

/* An empty profile for a system; NULL = no memory. */
struct tailvolt_profile *tv_profile_create(const char *name, const struct tailvolt_system *system);
/* Marks columns that never change and amplifiers with a prescribed draw; false = no memory. */
bool tv_profile_describe(struct tailvolt_profile *profile);

/* For tests: tailvolt_profile_read with a limit other than TV_PROFILE_HELD_BYTES. */
enum tailvolt_status tv_profile_read_limited(const char *path, const char *columns,
                                             const struct tailvolt_system *system, size_t held_bytes,
                                             struct tailvolt_profile **out, struct tailvolt_faults *faults);

/* Reads a log: a profile whose measured columns are read too, all of its rows held. `path` NULL: from `text`, called `name`. */
enum tailvolt_status tv_profile_read_log(const char *path, const char *text, const char *name, const char *columns,
                                         const struct tailvolt_system *system, struct tailvolt_profile **out,
                                         struct tailvolt_faults *faults);

#endif
