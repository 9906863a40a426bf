/* The level that lasts a chosen time: the root of log(time / wanted) over the level. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <string.h>

#include "study/parked.h"

#define LOWEST_DB (-60.0)
#define GRAIN_DB 0.02

struct search {
  const struct tailvolt_system *system;
  const struct tailvolt_profile *profile;
  struct tailvolt_parked_options options;
  double wanted_s;
  enum tailvolt_status status;
  char *error;
};

static double miss(double level_db, void *context) {
  struct search *s = context;
  struct tv_parked_brief brief;
  if (s->status != TAILVOLT_OK) return 0;
  s->options.level_db = level_db;
  s->status = tv_parked_brief(s->system, s->profile, &s->options, &brief, s->error);
  return s->status == TAILVOLT_OK ? log(fmax(brief.until_s, 0.1) / s->wanted_s) : 0;
}

static double root_db(struct search *s, double low_db, double high_db) {
  gsl_function function = {miss, s};
  gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
  if (solver == NULL) {
    s->status = TAILVOLT_NO_MEMORY;
    return low_db;
  }
  if (gsl_root_fsolver_set(solver, &function, low_db, high_db) == GSL_SUCCESS)
    for (int k = 0; k < 20 && s->status == TAILVOLT_OK; k++) {
      if (gsl_root_fsolver_iterate(solver) != GSL_SUCCESS) break;
      low_db = gsl_root_fsolver_x_lower(solver);
      high_db = gsl_root_fsolver_x_upper(solver);
      if (high_db - low_db < GRAIN_DB) break;
    }
  gsl_root_fsolver_free(solver);
  /* the quieter end lasts */
  return low_db;
}

enum tailvolt_status tv_parked_find_level(const struct tailvolt_system *system,
                                          const struct tailvolt_profile *profile,
                                          const struct tailvolt_parked_options *options,
                                          struct tailvolt_parked *out, char *error) {
  struct search s = {system, profile, *options, out->wanted_s, TAILVOLT_OK, error};
  /* longer than this need not be told apart; progress was the first run's */
  s.options.limit_s = fmin(options->limit_s, 2 * out->wanted_s);
  double here_db = options->level_db, low_db = LOWEST_DB, high_db = here_db;
  if (options->limit_s <= out->wanted_s) s.options.limit_s = 2 * out->wanted_s;
  s.options.full = false;
  out->level_looked_for = true;
  if (out->until_s >= out->wanted_s) {
    low_db = here_db;
    high_db = 0;
    if (here_db >= 0 || miss(high_db, &s) >= 0) {
      out->any_level_lasts = true;
      out->wanted_level_db = fmax(here_db, 0);
      return s.status;
    }
  } else if (miss(low_db, &s) < 0) {
    return s.status;
  } else if (miss(high_db, &s) >= 0) {
    /* short by less than the rougher search can tell */
    out->wanted_level_db = here_db;
    return s.status;
  }
  /* close to where it is now, most often */
  for (double step_db = 3;
       out->until_s < out->wanted_s && high_db - step_db > low_db && s.status == TAILVOLT_OK; step_db *= 2) {
    double try_db = high_db - step_db;
    if (miss(try_db, &s) >= 0) {
      low_db = try_db;
      break;
    }
    high_db = try_db;
  }
  double level_db = s.status == TAILVOLT_OK ? root_db(&s, low_db, high_db) : 0;
  if (s.status == TAILVOLT_OK) out->wanted_level_db = level_db;
  return s.status;
}
