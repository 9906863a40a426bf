/* The pieces of a fit: keys that move within their range, readings, derivatives; errors; what cannot be told apart. */
#ifndef TV_STUDY_MATCH_FIT_H
#define TV_STUDY_MATCH_FIT_H

#include <gsl/gsl_matrix.h>
#include <gsl/gsl_vector.h>

#include "input/system_number.h"
#include "study/compare.h"

/* Where the loss leaves the parabola, in standard deviations: 95 % efficient on Gaussian noise (Huber, Robust Statistics, 1981). */
#define TV_HUBER 1.345
/* Beyond this many standard deviations a reading is a spike and left out, as long as that is at most a tenth of its column: on
 * Gaussian noise one reading in 500 million. */
#define TV_SPIKE 6.0
#define TV_SPIKES_MOST 0.1
/* Least scatter assumed of a column: a meter's last digit. */
#define TV_LEAST_V 0.0005
#define TV_LEAST_A 0.01

/* A key being fitted. */
struct tv_fit_key {
  struct tv_system_number number;
  bool ratio;          /* its range spans decades: moves in ratios */
  double low, high;    /* of the range, or of its logarithm */
  double start, value; /* where the fit began; where it is now */
  double reach;        /* a noticeable change of the value: the value itself, or a tenth of its range */
  double step;         /* for derivatives, in reaches */
  enum tailvolt_match_state state;
  unsigned alike;
};

/* One reading to be fitted. */
struct tv_fit_reading {
  int log, group;
  long cell; /* in the log's values */
  double measured;
  bool out;  /* a spike: left out */
};

/* Columns of one name, in all logs. */
struct tv_fit_group {
  char name[TAILVOLT_LOG_NAME_MAX];
  bool current;
  double scale;     /* standard deviation of the residuals */
  double inflation; /* n readings count as n over this */
  double alike_s;
};

struct tv_fit {
  struct tailvolt_system *system; /* of tv_log_system() */
  const struct tailvolt_log *const *logs;
  int log_count;
  const struct tailvolt_compare_options *options;
  struct tailvolt_options run[TAILVOLT_LOGS_MAX];
  struct tv_programmes *shared;   /* made once for all runs; NULL = each makes its own */
  struct tailvolt_run *like;      /* whose solved batteries are copied; likewise */
  int key_count;
  struct tv_fit_key key[TAILVOLT_MATCH_KEYS];
  long count;
  struct tv_fit_reading *reading; /* by log, column, time */
  int group_count;
  struct tv_fit_group *group;
  double *simulated; /* [count]: at the keys' present values */
  int runs;
  bool settled;
  char error[TAILVOLT_TEXT_MAX];
};

/* match_points.c */

/* The keys' values as a vector; entry k is key k's. */
struct tv_fit_point {
  double value[TAILVOLT_MATCH_KEYS];
};
struct tv_fit_point tv_fit_here(const struct tv_fit *fit);

/* Simulates all logs at several points side by side: out[p][0 .. count). A point that cannot be simulated is NAN throughout. */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_simulate(struct tv_fit *fit, const struct tv_fit_point *points, int count, double *const *out);
/* A system (fit->system, or one made from it) at a point, for runs only; free with tailvolt_system_free(). */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_system(const struct tv_fit *fit, const struct tailvolt_system *base,
                                                    const struct tv_fit_point *point, struct tailvolt_system **out, char *error);
/* Runs once: fills `simulated` and drops readings outside the simulated time. */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_begin(struct tv_fit *fit);

/* Derivatives of every reading at the keys' values, per reach, [count][key_count]; keys whose bit is not in `which` are left
 * zero. `here` = fit->simulated for a one-sided difference, NULL for a central one; `widen` multiplies the step. */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_slopes(struct tv_fit *fit, unsigned which, const double *here, double widen, double *slope);

/* match_search.c: moves the keys of state FITTED to where the loss is smallest. */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_search(struct tv_fit *fit);
/* Scatter of each group at the keys' values, and its spikes; *change: the largest of a scale, as a logarithm, infinite where a spike came
 * or went. */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_rescale(struct tv_fit *fit, double *change);

/* match_errors.c */

/* How long residuals stay correlated: the inflation of each group. */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_correlation(struct tv_fit *fit);
/* Standard errors in reaches, NAN where not fitted, from slopes; *worth: independent readings. */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_errors(const struct tv_fit *fit, const double *slope, double error[TAILVOLT_MATCH_KEYS],
                                                    double *worth);

/* match_alike.c: keys of state FITTED that the readings do not fix are set to UNSEEN or ALIKE. *found: there were any. `slope` gets
 * the derivatives, [count][key_count]. */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_alike(struct tv_fit *fit, double *slope, bool *found);
/* Names the columns that would determine a key that was not fitted. */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_advise(struct tv_fit *fit, struct tailvolt_matched *matched);

#endif
