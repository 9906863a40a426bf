/* What the readings cannot tell.
 *
 * Derivatives per reach (the value itself as a change, or a tenth of its range) over each column's scatter make the matrix G =
 * sum J J^T. A key is unseen where a whole reach moves all readings together by less than two standard deviations, sqrt(G_kk) <
 * 2. Among the keys seen, G scaled to a unit diagonal has an eigenvalue near zero for each combination of keys that leaves no
 * trace. Derivatives are themselves differences of simulations whose steps scatter: taken twice, with steps of one and two, they
 * show how well each is known. Rank is lost where the square root of the eigenvalue is below three times that (at least 1 in
 * 500), or where the combination's own trace is below two standard deviations. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "numeric/matrix.h"
#include "study/match_fit.h"
#include "text/text.h"
#include "text/words.h"

#define SEEN 2.0
#define LEAST_RANK 0.002

struct sight {
  int count;
  int key[TAILVOLT_MATCH_KEYS];
  double g[TAILVOLT_MATCH_KEYS][TAILVOLT_MATCH_KEYS];
  double doubt[TAILVOLT_MATCH_KEYS]; /* of a derivative, as a share of it */
};

static double weight_of(const struct tv_fit *fit, long r) {
  const struct tv_fit_group *group = &fit->group[fit->reading[r].group];
  return fit->reading[r].out ? 0 : 1 / (group->scale * group->scale);
}

static void look(const struct tv_fit *fit, const double *slope, const double *wide, struct sight *sight) {
  *sight = (struct sight){0};
  for (int k = 0; k < fit->key_count; k++)
    if (fit->key[k].state == TAILVOLT_MATCH_FITTED) sight->key[sight->count++] = k;
  for (int i = 0; i < sight->count; i++) {
    double apart = 0;
    for (long r = 0; r < fit->count; r++) {
      const double *row = slope + r * fit->key_count;
      double w = weight_of(fit, r), d = row[sight->key[i]] - wide[r * fit->key_count + sight->key[i]];
      for (int j = 0; j < sight->count; j++) sight->g[i][j] += w * row[sight->key[i]] * row[sight->key[j]];
      apart += w * d * d;
    }
    sight->doubt[i] = sight->g[i][i] > 0 ? sqrt(apart / sight->g[i][i]) : 0;
  }
}

/* Marks the keys that leave no trace by themselves. */
static bool mark_unseen(struct tv_fit *fit, const struct sight *sight) {
  bool found = false;
  for (int i = 0; i < sight->count; i++) {
    if (sqrt(sight->g[i][i]) >= SEEN) continue;
    fit->key[sight->key[i]].state = TAILVOLT_MATCH_UNSEEN;
    fit->key[sight->key[i]].value = fit->key[sight->key[i]].start;
    found = true;
  }
  return found;
}

/* Whether eigenvector number e leaves no trace; values and vectors of the scaled matrix. */
static bool traceless(const struct sight *sight, double value, const gsl_matrix *vectors, size_t e, double doubt) {
  double rank = sqrt(fmax(value, 0)), reach2 = 0;
  for (size_t i = 0; i < (size_t)sight->count; i++) {
    double share = gsl_matrix_get(vectors, i, e);
    reach2 += share * share / sight->g[i][i]; /* how far it goes, in reaches, for a trace of `rank` */
  }
  return rank < fmin(doubt, 0.2) || rank / sqrt(reach2) < SEEN;
}

/* The keys that go with the one deepest in the null space: those that its projection links, whatever vectors span it. */
static unsigned linked(const struct sight *sight, double projection[TAILVOLT_MATCH_KEYS][TAILVOLT_MATCH_KEYS]) {
  int deepest = 0;
  for (int i = 1; i < sight->count; i++)
    if (projection[i][i] > projection[deepest][deepest]) deepest = i;
  unsigned set = 1u << deepest, before = 0, keys = 0;
  while (set != before) {
    before = set;
    for (int i = 0; i < sight->count; i++)
      for (int j = 0; j < sight->count; j++)
        if ((before >> i & 1) != 0 && fabs(projection[i][j]) > 0.1 * projection[deepest][deepest]) set |= 1u << j;
  }
  for (int i = 0; i < sight->count; i++)
    if ((set >> i & 1) != 0) keys |= 1u << sight->key[i];
  return keys;
}

/* The keys of a combination that leaves no trace. 0 = full rank. */
static enum tailvolt_status least_seen(const struct sight *sight, unsigned *keys) {
  size_t n = (size_t)sight->count, open = 0;
  double doubt = LEAST_RANK, projection[TAILVOLT_MATCH_KEYS][TAILVOLT_MATCH_KEYS] = {{0}};
  *keys = 0;
  if (n < 2) return TAILVOLT_OK;
  gsl_matrix *c = tv_matrix_new(n, n), *vectors = tv_matrix_new(n, n);
  gsl_vector *values = tv_vector_new(n);
  enum tailvolt_status status = c != NULL && vectors != NULL && values != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (size_t i = 0; i < n && status == TAILVOLT_OK; i++) {
    doubt = fmax(doubt, 3 * sight->doubt[i]);
    for (size_t j = 0; j < n; j++) gsl_matrix_set(c, i, j, sight->g[i][j] / sqrt(sight->g[i][i] * sight->g[j][j]));
  }
  if (status == TAILVOLT_OK && !tv_eigen(c, values, vectors)) status = TAILVOLT_NO_MEMORY;
  for (size_t e = 0; e < n && status == TAILVOLT_OK; e++) {
    if (!traceless(sight, gsl_vector_get(values, e), vectors, e, doubt)) continue;
    open++;
    for (size_t i = 0; i < n; i++)
      for (size_t j = 0; j < n; j++) projection[i][j] += gsl_matrix_get(vectors, i, e) * gsl_matrix_get(vectors, j, e);
  }
  gsl_vector_free(values);
  gsl_matrix_free(vectors);
  gsl_matrix_free(c);
  if (open > 0) *keys = linked(sight, projection);
  return status;
}

/* Keeps one of an indistinguishable set at its value: the one that somebody stated, of several the last named. */
static void hold_one(struct tv_fit *fit, unsigned made_of) {
  int held = -1;
  for (int k = 0; k < fit->key_count; k++) {
    if ((made_of >> k & 1) == 0) continue;
    fit->key[k].alike |= made_of & ~(1u << k);
    if (held < 0 || !fit->key[k].number.assumed || fit->key[held].number.assumed) held = k;
  }
  fit->key[held].state = TAILVOLT_MATCH_ALIKE;
  fit->key[held].value = fit->key[held].start;
}

enum tailvolt_status tv_fit_alike(struct tv_fit *fit, double *slope, bool *found) {
  size_t cells = (size_t)fit->count * (size_t)fit->key_count + 1;
  double *wide = malloc(cells * sizeof *wide);
  unsigned which = 0;
  *found = false;
  for (int k = 0; k < fit->key_count; k++)
    if (fit->key[k].state == TAILVOLT_MATCH_FITTED) which |= 1u << k;
  enum tailvolt_status status = wide != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = tv_fit_slopes(fit, which, NULL, 1, slope);
  if (status == TAILVOLT_OK) status = tv_fit_slopes(fit, which, NULL, 2, wide);
  for (int round = 0; round < 2 * TAILVOLT_MATCH_KEYS && status == TAILVOLT_OK; round++) {
    struct sight sight;
    look(fit, slope, wide, &sight);
    bool unseen = mark_unseen(fit, &sight);
    unsigned made_of = 0;
    if (!unseen) status = least_seen(&sight, &made_of);
    if (made_of != 0) hold_one(fit, made_of);
    if (!unseen && made_of == 0) break;
    *found = true;
  }
  free(wide);
  return status;
}

/* ---- what to measure ---- */

/* A meter's or a clamp's error in one reading, and the reading's worth in multiples of it. */
#define METER_V 0.01
#define CLAMP_A 0.5
#define WORTH 4.0 /* standard deviations of the combination that a reading must show */

/* Every point and every part as columns of one log. */
static struct tv_log_column *all_columns(const struct tailvolt_system *system, int *count) {
  struct tv_log_column *columns =
      calloc((size_t)system->point_count + (size_t)system->battery_count + (size_t)system->conductor_count + 2, sizeof *columns);
  *count = 0;
  if (columns == NULL) return NULL;
  for (int p = 1; p < system->point_count; p++) {
    struct tv_log_column *one = &columns[(*count)++];
    one->place = TV_LOG_POINT;
    one->item = p;
    tv_copy_text(one->point, sizeof one->point, system->point_names[p]);
    snprintf(one->name, sizeof one->name, "voltage_v:%s", system->point_names[p]);
  }
  if (system->alternator.present) {
    struct tv_log_column *one = &columns[(*count)++];
    one->current = true;
    one->place = TV_LOG_ALTERNATOR;
    snprintf(one->name, sizeof one->name, "current_a:alternator");
  }
  for (int k = 0; k < system->battery_count; k++) {
    struct tv_log_column *one = &columns[(*count)++];
    one->current = true;
    one->place = TV_LOG_BATTERY;
    one->item = k;
    snprintf(one->name, sizeof one->name, "current_a:%s", system->batteries[k].name);
  }
  for (int k = 0; k < system->conductor_count; k++) { /* a clamp goes round a cable */
    if (system->conductors[k].kind != TAILVOLT_CABLE && system->conductors[k].kind != TAILVOLT_STRAP) continue;
    struct tv_log_column *one = &columns[(*count)++];
    char section[TAILVOLT_NAME_MAX + 16];
    one->current = true;
    one->place = TV_LOG_CONDUCTOR;
    one->item = k;
    tv_section_words(tv_part_of_conductor(system->conductors[k].kind), system->conductors[k].name, section, sizeof section);
    snprintf(one->name, sizeof one->name, "current_a:%s", section);
  }
  return columns;
}

/* A combination that leaves no trace: the held key moved this many reaches, the fitted ones to compensate. */
static void balance(const struct tv_fit *fit, const double *slope, int held, double combination[TAILVOLT_MATCH_KEYS]) {
  double best = 0;
  int other = -1;
  memset(combination, 0, TAILVOLT_MATCH_KEYS * sizeof *combination);
  combination[held] = 1;
  double norm = 0, cross = 0;
  for (int k = 0; k < fit->key_count; k++) {
    if ((fit->key[held].alike >> k & 1) == 0 || fit->key[k].state != TAILVOLT_MATCH_FITTED) continue;
    double n = 0, x = 0;
    for (long r = 0; r < fit->count; r++) {
      const double *row = slope + r * fit->key_count;
      n += weight_of(fit, r) * row[k] * row[k];
      x += weight_of(fit, r) * row[k] * row[held];
    }
    if (fabs(x) / sqrt(n) <= best) continue;
    best = fabs(x) / sqrt(n);
    other = k;
    norm = n;
    cross = x;
  }
  if (other >= 0 && norm > 0) combination[other] = -cross / norm;
}

/* The system with the combination applied, as far as every value stays in its range. */
static struct tv_fit_point along(const struct tv_fit *fit, const double *combination, double size) {
  struct tv_fit_point point = tv_fit_here(fit);
  for (int k = 0; k < fit->key_count; k++) {
    double value = fit->key[k].value + size * combination[k] * fit->key[k].reach;
    point.value[k] = fmin(fmax(value, fit->key[k].number.low), fit->key[k].number.high);
  }
  return point;
}

/* What each column would show of the combination over the whole log, in standard deviations of its meter. */
static enum tailvolt_status weigh_columns(struct tv_fit *fit, const struct tailvolt_system *metered, int log,
                                          const struct tailvolt_log *probe, const double *combination, double *seen) {
  const double sizes[] = {0.3, -0.3};
  struct tv_log_job jobs[2] = {{0}};
  struct tailvolt_system *system[2] = {NULL, NULL};
  size_t cells = (size_t)probe->row_count * (size_t)probe->column_count;
  enum tailvolt_status status = TAILVOLT_OK;
  for (int s = 0; s < 2 && status == TAILVOLT_OK; s++) {
    struct tv_fit_point point = along(fit, combination, sizes[s]);
    status = tv_fit_system(fit, metered, &point, &system[s], fit->error);
    jobs[s] = (struct tv_log_job){.system = system[s], .log = probe, .options = &fit->run[log],
                                  .profile = fit->options->profile != NULL ? fit->options->profile : fit->logs[log]->profile,
                                  .to_s = HUGE_VAL, .simulated = malloc((cells + 1) * sizeof(double))};
    if (jobs[s].simulated == NULL) status = TAILVOLT_NO_MEMORY;
  }
  if (status == TAILVOLT_OK) status = tv_log_simulate(jobs, 2, fit->options->threads, NULL, NULL);
  for (size_t k = 0; k < cells && status == TAILVOLT_OK; k++) {
    const struct tv_log_column *column = &probe->columns[k % (size_t)probe->column_count];
    double d = (jobs[0].simulated[k] - jobs[1].simulated[k]) / (column->current ? CLAMP_A : METER_V);
    if (isfinite(d)) seen[k % (size_t)probe->column_count] = fmax(seen[k % (size_t)probe->column_count], fabs(d));
  }
  for (int s = 0; s < 2; s++) {
    free(jobs[s].simulated);
    tailvolt_system_free(system[s]);
  }
  return status == TAILVOLT_BAD_INPUT ? TAILVOLT_OK : status; /* lack of advice is not a failure */
}

static void name_best(const struct tailvolt_log *probe, const double *seen, bool current, char to[TAILVOLT_LOG_NAME_MAX]) {
  int best = -1;
  for (int c = 0; c < probe->column_count; c++)
    if (probe->columns[c].current == current && seen[c] >= WORTH && (best < 0 || seen[c] > 1.02 * seen[best])) best = c;
  if (best >= 0) tv_copy_text(to, TAILVOLT_LOG_NAME_MAX, probe->columns[best].name);
}

enum tailvolt_status tv_fit_advise(struct tv_fit *fit, struct tailvolt_matched *matched) {
  int log = 0, columns;
  for (int l = 1; l < fit->log_count; l++)
    if (fit->logs[l]->row_count > fit->logs[log]->row_count) log = l;
  struct tailvolt_log probe = *fit->logs[log];
  struct tailvolt_system *metered = NULL;
  const struct tailvolt_log *one = &probe;
  size_t cells = (size_t)fit->count * (size_t)fit->key_count + 1;
  double *slope = malloc(cells * sizeof *slope), *seen = NULL;
  enum tailvolt_status status = slope != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  probe.columns = all_columns(fit->system, &columns);
  if (probe.columns != NULL) {
    probe.column_count = columns;
    seen = malloc(((size_t)columns + 1) * sizeof *seen);
  }
  if (status == TAILVOLT_OK && seen == NULL) status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = tv_log_system(fit->system, &one, 1, &metered, fit->error);
  if (status == TAILVOLT_OK) status = tv_fit_slopes(fit, (1u << fit->key_count) - 1, NULL, 1, slope);
  for (int k = 0; k < fit->key_count && status == TAILVOLT_OK; k++) {
    double combination[TAILVOLT_MATCH_KEYS];
    if (fit->key[k].state != TAILVOLT_MATCH_ALIKE && fit->key[k].state != TAILVOLT_MATCH_UNSEEN) continue;
    memset(seen, 0, (size_t)columns * sizeof *seen);
    balance(fit, slope, k, combination);
    status = weigh_columns(fit, metered, log, &probe, combination, seen);
    name_best(&probe, seen, false, matched[k].measure_volts);
    name_best(&probe, seen, true, matched[k].measure_amperes);
  }
  free(probe.columns);
  tailvolt_system_free(metered);
  free(slope);
  free(seen);
  return status;
}
