/* A drive as a load profile, a trace as CSV. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tailvolt/drive.h"
#include "text/number.h"

static void write_comment(const char *comment, FILE *to) {
  while (comment != NULL && *comment != '\0') {
    size_t length = strcspn(comment, "\n");
    fprintf(to, length > 0 ? "# %.*s\n" : "#\n", (int)length, comment);
    comment += length + (comment[length] == '\n');
  }
}

/* The straight line between two moments as the profile reader draws it: none from or to zero. */
static double drawn_rpm(const struct tailvolt_drive_moment *a, const struct tailvolt_drive_moment *b, double time_s) {
  if (!(a->engine_rpm > 0) || !(b->engine_rpm > 0)) return a->engine_rpm;
  return a->engine_rpm + (b->engine_rpm - a->engine_rpm) * (time_s - a->time_s) / (b->time_s - a->time_s);
}

/* Last moment that a straight line from `first` reaches with everything between within thin_rpm of it. */
static int reach(const struct tailvolt_drive *drive, int first, double thin_rpm) {
  const struct tailvolt_drive_moment *moments = drive->moments;
  enum { FARTHEST = 4000 }; /* bounds the work on long steady stretches */
  int best = first + 1;
  for (int last = first + 2; last < drive->count && last <= first + FARTHEST; last++) {
    for (int k = first + 1; k < last; k++)
      if (fabs(drawn_rpm(&moments[first], &moments[last], moments[k].time_s) - moments[k].engine_rpm) > thin_rpm)
        return best;
    best = last;
  }
  return best;
}

enum tailvolt_status tailvolt_drive_write(const struct tailvolt_drive *drive,
                                          const struct tailvolt_drive_options *options, const char *comment,
                                          FILE *to) {
  write_comment(comment, to);
  fputs("time_s,engine_rpm,note_kmh\n", to);
  for (int k = 0; k < drive->count; k = k + 1 < drive->count ? reach(drive, k, options->thin_rpm) : drive->count) {
    const struct tailvolt_drive_moment *moment = &drive->moments[k];
    fprintf(to, "%s,%s,%s\n", tv_significant(moment->time_s, 10).text,
            tv_significant(round(moment->engine_rpm), 6).text, tv_significant(moment->speed_kmh, 5).text);
  }
  return ferror(to) ? TAILVOLT_NOT_WRITTEN : TAILVOLT_OK;
}

enum tailvolt_status tailvolt_trace_write(const struct tailvolt_trace *trace, const char *comment, FILE *to) {
  write_comment(comment, to);
  fputs("time_s,speed_kmh\n", to);
  for (int k = 0; k < trace->count; k++)
    fprintf(to, "%s,%s\n", tv_significant(trace->time_s[k], 10).text, tv_significant(trace->speed_kmh[k], 6).text);
  return ferror(to) ? TAILVOLT_NOT_WRITTEN : TAILVOLT_OK;
}
