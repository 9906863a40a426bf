#include "simulate/cautions.h"

#include <math.h>
#include <stdlib.h>

/* Crest factor of a sine, 20 log10(sqrt 2). */
static const double SINE_DB = 3.0103;

/* What the electronics of a 12 V vehicle must work at: ISO 16750-2, highest supply voltage of its codes A to D. */
static const double SUPPLY_MOST_V = 16.0;

/* Adds a caution about the run. */
static void add(struct tv_finding_list *list, const struct tailvolt_finding *finding, enum tailvolt_status *status) {
  if (*status == TAILVOLT_OK) *status = tv_finding_list_add(list, finding);
}

/* Music that is clipped by its nature. */
static void of_crest(const struct tailvolt_system *system, struct tv_finding_list *list, enum tailvolt_status *status) {
  for (int k = 0; k < system->programme_count; k++) {
    const struct tailvolt_programme *from = &system->programmes[k];
    if (from->recording[0] != '\0' || from->envelope[0] != '\0' || !(from->crest_db < SINE_DB - 1e-3)) continue;
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_CREST_BELOW_SINE, TAILVOLT_HOLDS);
    tv_finding_about(&found, system, TAILVOLT_PART_PROGRAMME, k);
    found.crest_db = from->crest_db;
    found.limit_db = SINE_DB;
    add(list, &found, status);
  }
}

static void of_run(const struct tv_run *run, struct tv_finding_list *list, enum tailvolt_status *status) {
  const struct tv_statistics *st = run->statistics;
  /* an engine only just started: the battery takes all there is, and the voltage rises for a minute */
  if (run->rest_at_limit && !(run->settled_s > 0)) {
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_REST_MOVING, TAILVOLT_HOLDS);
    add(list, &found, status);
  }
  of_crest(run->system, list, status);
  if (run->coarse_ripple) {
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_RIPPLE_COARSE, TAILVOLT_HOLDS);
    add(list, &found, status);
  }
  if (!isnan(st->no_start_s)) {
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_NO_START, TAILVOLT_HOLDS);
    found.voltage_v = st->no_start_v;
    found.limit_v = st->no_start_needs_v;
    found.time_s = st->no_start_s;
    add(list, &found, status);
  }
  if (st->highest_post_v > SUPPLY_MOST_V) {
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_OVERVOLTAGE, TAILVOLT_HOLDS);
    for (int k = 0; k < run->system->battery_count && found.part_count == 0; k++)
      if (run->system->batteries[k].kind == TAILVOLT_LITHIUM_IRON) tv_finding_about(&found, run->system, TAILVOLT_PART_BATTERY, k);
    found.voltage_v = st->highest_post_v;
    found.limit_v = SUPPLY_MOST_V;
    add(list, &found, status);
  }
  if (st->load_collapsed) {
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_LOAD_COLLAPSED, TAILVOLT_HOLDS);
    found.time_s = st->load_collapse_s;
    add(list, &found, status);
  }
}

enum tailvolt_status tv_cautions_gather(const struct tv_run *run, const struct tv_finding_list *safety,
                                        struct tailvolt_result *result) {
  struct tv_finding_list list = {0, 0, NULL};
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < safety->count; k++)
    if (safety->finding[k].status == TAILVOLT_HOLDS) add(&list, &safety->finding[k], &status);
  of_run(run, &list, &status);
  if (status != TAILVOLT_OK) {
    tv_finding_list_free(&list);
    return status;
  }
  result->caution_count = list.count;
  result->cautions = list.finding;
  return TAILVOLT_OK;
}
