/* Trying a choice: the system read with its settings, fuses fitted, the whole profile simulated. A run certain to
 * miss its targets may be stopped: nothing later can undo it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/each.h"
#include "simulate/lanes.h"
#include "simulate/run.h"
#include "simulate/verdict.h"
#include "study/parked.h"
#include "study/remedy.h"

/* A playing time this near the wanted one counts as met: the parked study is no more exact. */
static const double PARKED_GRAIN_FRAC = 0.005;

/* Whether a value has finally exceeded what the targets allow. Voltages are counted once a second. */
static bool has_failed(const struct tv_remedy_job *job, const struct tv_run *run) {
  const struct tv_statistics *st = run->statistics;
  for (int k = 0; k < run->system->amplifier_count; k++) {
    const struct tv_amplifier_total *a = &st->amplifier[k];
    if (a->cut_outs > a->start_cut_outs) return true;
    double total_s = 0.0;
    for (int p = 0; p < TAILVOLT_PHASES; p++) total_s += job->play_s[k * TAILVOLT_PHASES + p];
    for (int p = 0; p < TAILVOLT_PHASES; p++) {
      /* a raised idle moves time between idle and road: then all of it must count as one phase */
      bool same = run->system->engine.idle_rpm == job->system->engine.idle_rpm;
      double play_s = same ? job->play_s[k * TAILVOLT_PHASES + p] : total_s;
      if (tv_sum_value(&a->phase[p].below_s) > run->system->targets.missed_frac * play_s * (1 + 1e-6) + 1e-3)
        return true;
    }
  }
  for (int k = 0; k < run->system->conductor_count; k++)
    if (run->system->conductors[k].kind == TAILVOLT_FUSE && !isnan(st->fuse[k].opens_time_s)) return true;
  return false;
}

enum tailvolt_status tv_try_settings(const struct tv_remedy_job *job, const struct tv_choice *choice,
                                     struct tv_settings *settings, struct tailvolt_system **system, char *error) {
  enum { FITS_MOST = 4 };
  struct tv_settings own = {0};
  struct tailvolt_system *read = NULL;
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  enum tailvolt_status status = faults != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  if (choice != NULL && status == TAILVOLT_OK) tv_plan_compose(&job->plan, choice, &own);
  bool changed = true;
  for (int round = 0; round < FITS_MOST && changed && status == TAILVOLT_OK; round++) {
    int count = job->setting_count + own.count;
    struct tailvolt_setting *all = calloc((size_t)count + 1, sizeof *all);
    if (all == NULL || own.no_memory || own.too_long) {
      free(all);
      status = own.too_long ? TAILVOLT_INTERNAL : TAILVOLT_NO_MEMORY;
      break;
    }
    if (job->setting_count > 0) memcpy(all, job->settings, (size_t)job->setting_count * sizeof *all);
    for (int k = 0; k < own.count; k++) all[job->setting_count + k].text = own.asked[k].text;
    tailvolt_system_free(read);
    read = NULL;
    status = tailvolt_system_parse(job->text, job->name, all, count, &read, faults);
    free(all);
    if (status == TAILVOLT_BAD_INPUT && faults->count > 0)
      snprintf(error, TAILVOLT_TEXT_MAX, "%.80s: %.150s", faults->fault[0].key, faults->fault[0].message);
    if (status == TAILVOLT_OK && choice != NULL)
      status = tv_fit_fuses(job->system, read, &own, &changed);
    else
      changed = false;
  }
  free(faults);
  if (status == TAILVOLT_OK && own.no_memory) status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK && settings != NULL)
    *settings = own;
  else
    tv_settings_free(&own);
  if (status == TAILVOLT_OK && system != NULL)
    *system = read;
  else
    tailvolt_system_free(read);
  return status;
}

/* Makes one thing in the system ideal. Its arrays belong to this call, so they may be written. */
static void make_ideal(struct tailvolt_system *system, enum tailvolt_ideal ideal) {
  switch (ideal) {
  case TAILVOLT_IDEAL_WIRE:
    for (int k = 0; k < system->conductor_count; k++) system->conductors[k].resistance_ohm = 1e-6;
    break;
  case TAILVOLT_IDEAL_BATTERY:
    for (int k = 0; k < system->battery_count; k++) {
      struct tailvolt_battery *b = &system->batteries[k];
      b->resistance_ohm = 1e-4;
      b->polarization_count = 1;
      b->polarization_ohm[0] = 1e-6;
      b->polarization_s[0] = 1.0;
    }
    break;
  case TAILVOLT_IDEAL_ALTERNATOR:
    if (isfinite(system->alternator.fixed_output_a)) system->alternator.fixed_output_a = 2000.0;
    system->alternator.rated_a *= 10.0;
    for (int k = 0; k < system->alternator.output_count; k++) system->alternator.output_a[k] *= 10.0;
    break;
  case TAILVOLT_IDEAL_FIELD:
    system->alternator.field_s = 0.0;
    system->alternator.ramp_a_per_s = 0.0;
    break;
  case TAILVOLT_IDEAL_CAPACITOR:
    break;
  }
}

/* A capacitor beyond anything sold, at each amplifier. */
static enum tailvolt_status add_ideal_capacitors(struct tailvolt_system *system) {
  size_t count = (size_t)system->capacitor_count, more = (size_t)system->amplifier_count;
  struct tailvolt_capacitor *all = realloc(system->capacitors, (count + more + 1) * sizeof *all);
  if (all == NULL) return TAILVOLT_NO_MEMORY;
  system->capacitors = all;
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &system->amplifiers[k];
    bool taken = false;
    for (int j = 0; j < k; j++)
      taken = taken || (system->amplifiers[j].positive == a->positive && system->amplifiers[j].negative == a->negative);
    if (taken) continue;
    struct tailvolt_capacitor *c = &system->capacitors[system->capacitor_count++];
    *c = (struct tailvolt_capacitor){.positive = a->positive, .negative = a->negative, .capacitance_f = 1000.0,
                                     .esr_ohm = 1e-4, .rated_v = (double)NAN};
    snprintf(c->name, sizeof c->name, "ideal %d", k);
  }
  return TAILVOLT_OK;
}

static bool has(const struct tv_remedy_job *job, const struct tv_trial *trial, enum tailvolt_cure cure) {
  return tv_plan_step(&job->plan, &trial->choice, cure) != NULL;
}

static bool has_capacitor(const struct tv_remedy_job *job, const struct tv_trial *trial) {
  return has(job, trial, TAILVOLT_CURE_CAPACITOR);
}

/* Music with held bass notes, as loud on average as the system's own and on the same note. Beats are what a
 * capacitor is best at: it must cope with notes too. False where no generated music can be replaced. */
static bool hold_bass_notes(struct tailvolt_system *system) {
  bool any = false;
  for (int k = 0; k < system->programme_count; k++) {
    struct tailvolt_programme *p = &system->programmes[k];
    if (p->recording[0] != '\0' || p->envelope[0] != '\0') continue;
    snprintf(p->style, sizeof p->style, "held-bass");
    p->tempo_per_min = p->decay_s = (double)NAN;
    any = true;
  }
  return any;
}

/* The runs of a trial: the road of the same day, whose balance the others are judged with; the profile, and for a capacitor what remains
 * once its first charge is spent, and held bass notes. */
enum { ROAD, MAIN, AGAIN, NOTES, RUNS };

/* A trial while it runs. */
struct attempt {
  struct tv_remedy_job *job;
  struct tv_trial *trial;
  struct tailvolt_system *system, *held; /* the same with held bass notes; NULL until asked for */
  bool lasts;
  atomic_bool failed; /* its first run has, for certain */
  bool before;  /* meets without a look at its capacitor */
  bool thin;    /* a cable bears less than its amplifiers take: its fuse had to be brought down below that */
  bool open;    /* to be run in full */
  double road_a;    /* its balance on the road, where that is a profile of its own */
  double coarser_v; /* what longer steps gave and left open; NAN = nothing */
  int looks;
  bool wanted[RUNS], ran[RUNS];
  enum tailvolt_status status[RUNS];
  struct tailvolt_result *result[RUNS];
};

/* The system, and the playing time: that answer is quicker, and one missed target is enough. */
static void prepare(struct attempt *a) {
  struct tv_remedy_job *job = a->job;
  struct tv_trial *trial = a->trial;
  trial->error[0] = '\0';
  trial->parked_s = trial->quick_s = trial->low_v = trial->margin_v = trial->margin_again_v = (double)NAN;
  if (tv_remedy_asked_to_stop(job)) {
    trial->status = TAILVOLT_STOPPED;
    return;
  }
  trial->status = tv_try_settings(job, trial->raw ? NULL : &trial->choice, NULL, &a->system, trial->error);
  bool as_rated = !trial->raw && trial->ideal < 0 && !has(job, trial, TAILVOLT_CURE_LEVEL);
  if (trial->status == TAILVOLT_OK && as_rated)
    trial->status = tv_fuses_cut_short(job->system, a->system, &a->thin);
  /* these parts do not change the number of amplifiers, loads or programmes: the profile still fits */
  if (trial->status == TAILVOLT_OK && trial->ideal >= 0) {
    if (trial->ideal == TAILVOLT_IDEAL_CAPACITOR) trial->status = add_ideal_capacitors(a->system);
    make_ideal(a->system, (enum tailvolt_ideal)trial->ideal);
  }
  bool parked = isfinite(job->parked_s) && trial->ideal < 0;
  if (trial->status == TAILVOLT_OK && parked) trial->status = tv_remedy_parked(job, a->system, false, &trial->parked_s);
  trial->quick_s = trial->parked_s;
  /* the car as it is gets the answer of the parked study */
  if (trial->status == TAILVOLT_OK && parked && trial->raw) trial->status = tv_remedy_parked(job, a->system, true, &trial->parked_s);
  a->lasts = !parked || !(trial->parked_s < job->parked_s * (1.0 - PARKED_GRAIN_FRAC));
  a->failed = trial->status == TAILVOLT_OK && (!a->lasts || a->thin) && !trial->to_the_end;
  a->open = trial->status == TAILVOLT_OK && !a->failed;
  a->coarser_v = (double)NAN;
  a->road_a = job->options.run.road_balance_a;
}

/* About once a second of the run: stops if the user asks, or if what the targets allow is exceeded. */
static bool look(void *context, const struct tv_run *run) {
  struct attempt *a = context;
  if (++a->looks % 5 == 0 && tv_remedy_asked_to_stop(a->job)) return true;
  bool failed = !a->trial->to_the_end && a->job->play_s != NULL && has_failed(a->job, run);
  if (failed) atomic_store(&a->failed, true);
  return failed;
}

/* Beside it: no longer asked for once that has failed. */
static bool look_beside(void *context, const struct tv_run *run) {
  struct attempt *a = context;
  (void)run;
  return atomic_load(&a->failed) || tv_remedy_asked_to_stop(a->job);
}

/* Wants a run that is not there yet. */
static void want(struct attempt *a, int run) {
  bool possible = run == MAIN || has_capacitor(a->job, a->trial) || (run == AGAIN && a->trial->again);
  if (run == AGAIN) possible = possible && a->job->over_again != NULL;
  if (run == ROAD) possible = a->job->road != NULL;
  if (!possible || a->ran[run] || a->trial->status != TAILVOLT_OK) return;
  if (run == NOTES && a->held == NULL) {
    enum tailvolt_status status = tailvolt_system_copy(a->system, &a->held);
    if (status != TAILVOLT_OK) a->trial->status = status;
    if (status != TAILVOLT_OK || !hold_bass_notes(a->held)) return;
  }
  a->wanted[run] = true;
}

/* Runs all that is wanted, side by side. */
static enum tailvolt_status run_wanted(struct tv_remedy_job *job, struct attempt *attempt, int count, double step_s) {
  struct tv_lane_job *lanes = calloc((size_t)(RUNS * count) + 1, sizeof *lanes);
  double *road_a = calloc((size_t)(RUNS * count) + 1, sizeof *road_a);
  int chosen = 0;
  if (lanes == NULL || road_a == NULL) {
    free(lanes);
    free(road_a);
    return TAILVOLT_NO_MEMORY;
  }
  for (int run = 0; run < RUNS; run++)
    for (int k = 0; k < count; k++) {
      struct attempt *a = &attempt[k];
      if (!a->wanted[run]) continue;
      road_a[chosen] = a->road_a;
      lanes[chosen++] = (struct tv_lane_job){.system = run == NOTES ? a->held : a->system,
                                             .profile = run == AGAIN ? job->over_again : run == ROAD ? job->road : job->profile,
                                             .stop = run == MAIN ? look : look_beside, .context = a};
    }
  enum tailvolt_status status = chosen > 0 ? tv_remedy_run_in_steps(job, lanes, chosen, step_s, road_a) : TAILVOLT_OK;
  chosen = 0;
  for (int run = 0; run < RUNS; run++)
    for (int k = 0; k < count; k++) {
      struct attempt *a = &attempt[k];
      if (!a->wanted[run]) continue;
      const struct tv_lane_job *from = &lanes[chosen++];
      a->wanted[run] = false;
      a->ran[run] = true;
      a->result[run] = from->result;
      a->status[run] = status != TAILVOLT_OK ? status : from->status;
      if (a->status[run] != TAILVOLT_OK) memcpy(a->trial->error, from->error, sizeof a->trial->error);
    }
  free(lanes);
  free(road_a);
  return status;
}

/* The road before all else. */
static enum tailvolt_status run_road(struct tv_remedy_job *job, struct attempt *attempt, int count, double step_s) {
  enum tailvolt_status status = run_wanted(job, attempt, count, step_s);
  for (int k = 0; k < count; k++) {
    struct attempt *a = &attempt[k];
    if (!a->ran[ROAD]) continue;
    if (a->status[ROAD] == TAILVOLT_OK) a->road_a = tailvolt_charge_balance_a(a->result[ROAD], TAILVOLT_ROAD);
    else if (a->trial->status == TAILVOLT_OK) a->trial->status = a->status[ROAD];
  }
  return status;
}

static void forget_runs(struct attempt *a) {
  for (int run = 0; run < RUNS; run++) {
    tailvolt_result_free(a->result[run]);
    a->result[run] = NULL;
    a->ran[run] = false;
  }
}

/* ---- in longer steps ---- */

/* What they say of a trial before its capacitor is looked at. */
static void foresee_main(struct attempt *a) {
  struct tv_trial *trial = a->trial;
  const struct tailvolt_result *result = a->result[MAIN];
  double coarser_v = a->coarser_v;
  a->open = true;
  a->coarser_v = (double)NAN;
  if (a->failed) {
    trial->foreseen = trial->cut_short = true;
    a->open = false;
    return;
  }
  if (a->status[MAIN] != TAILVOLT_OK || trial->guess < TV_GUESS_OUTCOME) return;
  enum tv_outlook outlook = tv_outlook(a->job, a->system, result, a->road_a, coarser_v, TV_HOLDS_FROM_V);
  if (outlook == TV_OUTLOOK_OPEN) {
    a->coarser_v = result->margin_v;
    return;
  }
  trial->foreseen = true;
  trial->meets = outlook == TV_OUTLOOK_GOOD && !a->thin;
  trial->marginal = outlook == TV_OUTLOOK_BAD && !a->thin && result->margin_v >= 0.0 && result->margin_v < TV_HOLDS_FROM_V;
  a->before = trial->meets;
  a->open = false;
}

/* What they say of one that would hold, by another run of its capacitor. */
static void foresee_more(struct attempt *a, int run, double from_v) {
  struct tv_trial *trial = a->trial;
  if (!trial->foreseen || !trial->meets || !a->ran[run]) return;
  enum tv_outlook outlook = TV_OUTLOOK_OPEN;
  if (a->status[run] == TAILVOLT_OK) outlook = tv_outlook(a->job, a->system, a->result[run], a->road_a, (double)NAN, from_v);
  trial->meets = outlook == TV_OUTLOOK_GOOD;
  if (run == NOTES) trial->notes_clear = trial->meets;
  if (outlook != TV_OUTLOOK_OPEN) return;
  trial->foreseen = false;
  a->open = true;
}

/* What is open is tried in steps of half that length; the difference tells what is still lost. */
static enum tailvolt_status look_closer(struct tv_remedy_job *job, struct attempt *attempt, int count) {
  for (int k = 0; k < count; k++) {
    struct attempt *a = &attempt[k];
    if (a->trial->guess == TV_GUESS_SHOWN) a->coarser_v = (double)NAN;
    if (!a->open || !isfinite(a->coarser_v)) continue;
    tailvolt_result_free(a->result[MAIN]);
    a->result[MAIN] = NULL;
    a->ran[MAIN] = false;
    want(a, MAIN);
  }
  enum tailvolt_status status = run_wanted(job, attempt, count, 0.5 * job->long_step_s);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++)
    if (attempt[k].ran[MAIN] && attempt[k].open && isfinite(attempt[k].coarser_v)) foresee_main(&attempt[k]);
  return status;
}

static bool is_to_foresee(const struct attempt *a) {
  return a->open && a->trial->guess != TV_GUESS_NOTHING && !a->trial->to_the_end;
}

static enum tailvolt_status foresee(struct tv_remedy_job *job, struct attempt *attempt, int count) {
  if (!(job->long_step_s > 0.0) || job->play_s == NULL) return TAILVOLT_OK;
  for (int k = 0; k < count; k++)
    if (is_to_foresee(&attempt[k])) want(&attempt[k], ROAD);
  enum tailvolt_status status = run_road(job, attempt, count, job->long_step_s);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) {
    struct attempt *a = &attempt[k];
    if (!is_to_foresee(a)) continue;
    want(a, MAIN);
    if (a->trial->expected) want(a, AGAIN), want(a, NOTES);
  }
  if (status == TAILVOLT_OK) status = run_wanted(job, attempt, count, job->long_step_s);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++)
    if (attempt[k].ran[MAIN]) foresee_main(&attempt[k]);
  if (status == TAILVOLT_OK) status = look_closer(job, attempt, count);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++)
    if (attempt[k].trial->foreseen && attempt[k].trial->meets) want(&attempt[k], AGAIN), want(&attempt[k], NOTES);
  if (status == TAILVOLT_OK) status = run_wanted(job, attempt, count, job->long_step_s);
  for (int k = 0; k < count; k++) {
    foresee_more(&attempt[k], AGAIN, TV_HOLDS_FROM_V);
    foresee_more(&attempt[k], NOTES, TV_MARGINAL_FROM_V);
    forget_runs(&attempt[k]);
    if (attempt[k].open) attempt[k].failed = false;
  }
  return status;
}

/* What is shown if it ends here waits for others that are. */
static void leave_open(struct attempt *attempt, int count) {
  for (int k = 0; k < count; k++) {
    struct attempt *a = &attempt[k];
    if (!a->open || a->trial->guess != TV_GUESS_SHOWN || !(a->job->long_step_s > 0.0) || a->job->play_s == NULL) continue;
    a->trial->open = true;
    a->open = false;
  }
}

/* ---- in full ---- */

static void judge(struct attempt *a) {
  struct tv_trial *trial = a->trial;
  trial->result = a->result[MAIN];
  a->result[MAIN] = NULL;
  trial->status = a->failed && a->status[MAIN] == TAILVOLT_STOPPED ? TAILVOLT_OK : a->status[MAIN];
  if (trial->status != TAILVOLT_OK) return;
  trial->whole = !a->failed;
  trial->cut_short = a->failed;
  if (!a->failed) {
    trial->low_v = tv_low_v(trial->result);
    trial->margin_v = tv_margin_v(trial->result);
  }
  if (a->ran[AGAIN] && a->status[AGAIN] == TAILVOLT_OK) trial->margin_again_v = tv_margin_v(a->result[AGAIN]);
  bool sound = !a->failed && a->lasts && !a->thin && tv_is_safe(trial->result);
  trial->meets = sound && trial->result->status == TAILVOLT_HOLDS;
  trial->marginal = sound && trial->result->status == TAILVOLT_MARGINAL;
  a->before = trial->meets;
}

/* Whether its capacitor is to be looked at again. */
static bool has_more_to_show(const struct attempt *a) {
  return a->open && a->trial->status == TAILVOLT_OK && !a->failed && has_capacitor(a->job, a->trial);
}

static bool needs_again(const struct attempt *a) { return has_more_to_show(a) && (a->trial->meets || a->trial->to_the_end); }
static bool needs_notes(const struct attempt *a) {
  return has_more_to_show(a) && (a->trial->meets || a->trial->marginal) && !a->trial->notes_clear;
}

/* A capacitor is judged by what remains once its first charge is spent ... */
static void judge_again(struct attempt *a) {
  struct tv_trial *trial = a->trial;
  if (!needs_again(a) || !a->ran[AGAIN]) return;
  trial->status = a->status[AGAIN];
  if (trial->status != TAILVOLT_OK) return;
  trial->margin_v = tv_margin_v(a->result[AGAIN]);
  trial->meets = trial->meets && a->result[AGAIN]->status == TAILVOLT_HOLDS;
  trial->marginal = trial->marginal && a->result[AGAIN]->status != TAILVOLT_FAILS;
}

/* ... and with held bass notes. */
static void judge_notes(struct attempt *a) {
  struct tv_trial *trial = a->trial;
  if (!needs_notes(a) || !a->ran[NOTES]) return;
  trial->status = a->status[NOTES];
  if (trial->status == TAILVOLT_OK && a->result[NOTES]->status == TAILVOLT_FAILS) trial->meets = trial->marginal = false;
}

/* The profile itself; beside it what will be asked for in any case. */
static enum tailvolt_status run_in_full(struct tv_remedy_job *job, struct attempt *attempt, int count) {
  for (int k = 0; k < count; k++)
    if (attempt[k].open) want(&attempt[k], ROAD);
  enum tailvolt_status status = run_road(job, attempt, count, 0.0);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) {
    struct attempt *a = &attempt[k];
    if (!a->open) continue;
    want(a, MAIN);
    /* one that was left open is no longer likely to */
    bool expected = a->trial->expected && a->trial->guess == TV_GUESS_NOTHING;
    if (a->trial->to_the_end || expected) want(a, AGAIN);
    if (expected && !a->trial->notes_clear) want(a, NOTES);
  }
  if (status == TAILVOLT_OK) status = run_wanted(job, attempt, count, 0.0);
  for (int k = 0; k < count; k++)
    if (attempt[k].open && attempt[k].ran[MAIN]) judge(&attempt[k]);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++)
    if (needs_again(&attempt[k])) want(&attempt[k], AGAIN);
  if (status == TAILVOLT_OK) status = run_wanted(job, attempt, count, 0.0);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) {
    judge_again(&attempt[k]);
    if (needs_notes(&attempt[k])) want(&attempt[k], NOTES);
  }
  if (status == TAILVOLT_OK) status = run_wanted(job, attempt, count, 0.0);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) judge_notes(&attempt[k]);
  return status;
}

/* What the threads share. */
struct crew {
  struct tv_remedy_job *job;
  struct attempt *attempt;
  struct tv_trial *trials;
};

static void prepare_one(void *context, int k) {
  struct crew *crew = context;
  struct attempt *attempt = &crew->attempt[k];
  attempt->job = crew->job;
  attempt->trial = &crew->trials[k];
  prepare(attempt);
}

enum tailvolt_status tv_try(struct tv_remedy_job *job, struct tv_trial *trials, int count) {
  struct attempt *attempt = calloc((size_t)count + 1, sizeof *attempt);
  enum tailvolt_status status = attempt != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  job->batch = count;
  atomic_store(&job->batch_done, 0);
  if (status == TAILVOLT_OK) {
    struct crew crew = {job, attempt, trials};
    tv_each(count, tv_threads(job->options.threads), prepare_one, &crew);
    status = foresee(job, attempt, count);
    leave_open(attempt, count);
    if (status == TAILVOLT_OK) status = run_in_full(job, attempt, count);
  }
  for (int k = 0; k < count && attempt != NULL; k++) {
    struct tv_trial *trial = &trials[k];
    if (status != TAILVOLT_OK && trial->status == TAILVOLT_OK && !trial->whole) trial->status = status;
    trial->refused = attempt[k].before && !trial->meets;
    trial->done = trial->status == TAILVOLT_OK;
    forget_runs(&attempt[k]);
    tailvolt_system_free(attempt[k].system);
    tailvolt_system_free(attempt[k].held);
    job->stage_done++;
    job->runs++;
    if (trial->whole) job->whole_runs++;
    if (status == TAILVOLT_OK && (trial->status == TAILVOLT_STOPPED || trial->status == TAILVOLT_NO_MEMORY ||
                                  trial->status == TAILVOLT_INTERNAL))
      status = trial->status;
  }
  job->batch = 0;
  free(attempt);
  return status;
}

enum tailvolt_status tv_confirm(struct tv_remedy_job *job, struct tv_trial *const *trials, int count) {
  struct tv_trial *full = calloc((size_t)count + 1, sizeof *full);
  if (full == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < count; k++)
    full[k] = (struct tv_trial){.ideal = -1, .choice = trials[k]->choice, .expected = trials[k]->meets,
                                .notes_clear = trials[k]->notes_clear};
  enum tailvolt_status status = tv_try(job, full, count);
  job->runs -= count; /* they were counted when they were foreseen */
  for (int k = 0; k < count; k++) {
    if (!full[k].done) tv_trial_clear(&full[k]);
    if (full[k].done || status == TAILVOLT_OK) *trials[k] = full[k];
  }
  free(full);
  return status;
}

void tv_trial_clear(struct tv_trial *trial) {
  tailvolt_result_free(trial->result);
  trial->result = NULL;
}
