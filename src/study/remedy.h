/* Remedy: shared by its files.
 *
 * A plan lists the families of cures that suit this system, each a series of size steps (standard sizes of rising
 * effect). A choice takes one size step of each family, 0 = none. Composing a choice gives settings; trying it reads
 * the system with them, fits the fuses and simulates the profile. */
#ifndef TV_STUDY_REMEDY_H
#define TV_STUDY_REMEDY_H

#include <stdatomic.h>
#include <stddef.h>

#include "simulate/lanes.h"
#include "study/larger_alternator.h"
#include "study/parked.h"
#include "study/remedy_catalogue.h"
#include "tailvolt/remedy.h"
#include "text/lock.h"

enum { TV_FAMILIES_MOST = TAILVOLT_CURES, TV_SIZE_STEPS_MOST = 24, TV_PARTS_LISTED = 48 };

/* One change that a cure makes. */
struct tv_asked {
  enum tailvolt_cure cure;
  char key[128], value[TV_VALUE_ROOM]; /* "section.key" and its new value */
  char text[128 + TV_VALUE_ROOM + 4];  /* the two as one setting */
};

/* Changes under construction. */
struct tv_settings {
  int count, room;
  struct tv_asked *asked;
  bool no_memory;
  bool too_long; /* a value had no room: nothing can be told by it */
};
void tv_settings_add(struct tv_settings *settings, enum tailvolt_cure cure, const char *section, const char *key,
                     const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 5, 6)))
#endif
    ;
void tv_settings_free(struct tv_settings *settings);

struct tv_size_step {
  const struct tv_stock_item *item; /* NULL where the family has a single step and needs no size */
  const struct tv_stock_item *converter; /* what charges a second battery; NULL = a relay joins it */
  char what[96];
  double cost, effort_h;
  bool priced;                      /* all of it is in the price list */
};

struct tv_family {
  enum tailvolt_cure cure;
  int size_step_count;
  struct tv_size_step size_step[TV_SIZE_STEPS_MOST];
};

/* Indices of conductors. */
struct tv_part_list {
  int count, part[TV_PARTS_LISTED];
  double full_a[TV_PARTS_LISTED]; /* what the amplifiers behind it draw at rated power; 0 = not looked for */
  double lead_m[TV_PARTS_LISTED]; /* of what serves some of the amplifiers: with the others on the same way, there and back */
};

/* ... by role in the circuit. */
struct tv_places {
  struct tv_part_list feed;
  struct tv_part_list ground; /* ground leads of amplifiers: not shared with the charging current */
  struct tv_part_list strap;  /* charge lead, body-battery, body-engine */
  struct tv_part_list joint;  /* poor ones */
  double fullest_a;           /* what the fullest of feed and ground carries */
  double feed_m;              /* length of the worst amplifier's feed: of cables laid beside it */
  /* a second battery: the first cable of that feed (-1 = no place), the point before it, where its relay goes, and the point that it
   * joins: where the leads of the amplifiers part, else the worst amplifier's plus */
  int feed_cable, relay_at, second_at;
  bool second_shared; /* it joins where they part */
  int second_ground;  /* where its ground lead ends: as the worst amplifier's does */
  int converter;      /* an isolator: what alone brings charge to a battery that loses it; -1 = none */
  bool stays_open;    /* it never works: the alternator's lowest set point is below what it wants */
  int battery;        /* that feeds the worst amplifier by cable alone, else the one that starts the car; -1 = there is none */
};
/* Finds them from the system and a run of it (remedy_places.c). worst_amplifier: -1 = nothing plays. */
TAILVOLT_CHECKED enum tailvolt_status tv_find_places(const struct tailvolt_system *system, const struct tailvolt_result *before,
                                                     int worst_amplifier, struct tv_places *places);
static inline double tv_ohm_per_m(const struct tailvolt_conductor *c) {
  return c->length_m > 0.0 ? c->resistance_ohm / c->length_m : 0.0;
}

struct tv_plan {
  const struct tailvolt_system *system;
  const struct tv_catalogue *catalogue;
  struct tv_places places;
  int worst_amplifier;
  bool by_engine; /* the alternator's lowest set point would leave a usual relay open: the engine switches a second battery's */
  int family_count;
  struct tv_family family[TV_FAMILIES_MOST];
};

struct tv_choice {
  signed char size_step[TV_FAMILIES_MOST]; /* 0 = none, else 1 .. size_step_count */
};

/* Finds the families from the system and a run of it. */
TAILVOLT_CHECKED enum tailvolt_status tv_plan_make(const struct tailvolt_system *system,
                                                   const struct tv_catalogue *catalogue,
                                                   const struct tailvolt_result *before, struct tv_plan *plan);
/* What to lay in place of part `at` of a list where what feeds all amplifiers gets `wanted`; NULL = it is as good already. A part that
 * serves some of them gets no more than those call for. */
const struct tv_stock_item *tv_plan_size(const struct tv_plan *plan, const struct tv_part_list *list, int at,
                                         const struct tv_stock_item *wanted);
/* The cable that a larger alternator's charging current needs in place of a conductor of the charging circuit; NULL =
 * it can carry that already, or nothing on offer can. */
const struct tv_stock_item *tv_plan_lead(const struct tv_plan *plan, int conductor, double current_a);
/* Whether the system has a place for a cure that is asked about, whatever the catalogue offers. */
bool tv_plan_has_place(const struct tv_plan *plan, enum tailvolt_cure cure);
int tv_plan_family(const struct tv_plan *plan, enum tailvolt_cure cure); /* -1 = not offered */
/* The size that a choice has of a cure; NULL = none. */
const struct tv_size_step *tv_plan_step(const struct tv_plan *plan, const struct tv_choice *choice, enum tailvolt_cure cure);
/* Adds the settings of a choice (fuses are fitted later). */
void tv_plan_compose(const struct tv_plan *plan, const struct tv_choice *choice, struct tv_settings *settings);
double tv_plan_cost(const struct tv_plan *plan, const struct tv_choice *choice); /* hours included */
double tv_plan_effort_h(const struct tv_plan *plan, const struct tv_choice *choice);
/* Money for a choice, hours included; NAN where there is no price list or something is not in it. */
double tv_plan_price(const struct tv_plan *plan, const struct tv_choice *choice);
/* A choice with a family that changes nothing: ground leads no thicker than those that a feed takes along. */
bool tv_plan_is_redundant(const struct tv_plan *plan, const struct tv_choice *choice);
/* Cost and hours of one fuse. */
double tv_plan_fuse_cost(const struct tv_plan *plan, double *effort_h);
/* "4 AWG feed + 130 A alternator", in order of work; `steady`: the alternator first. */
void tv_plan_say(const struct tv_plan *plan, const struct tv_choice *choice, bool steady, char *text, size_t size);

/* Names, sections and fuses of new parts (remedy_compose.c). A name that the system does not have yet; a fuse of 30 A, to be fitted. */
void tv_new_part_name(const struct tailvolt_system *system, const char *wanted, char name[TAILVOLT_NAME_MAX]);
void tv_conductor_section(const struct tailvolt_conductor *c, char *to, size_t size);
void tv_new_fuse(const char *section, enum tailvolt_cure cure, const char *from, const char *to, double distance_m,
                 struct tv_settings *settings);
/* Lengths of new parts (common practice: near the part it protects). */
#define TV_FUSE_DISTANCE_M 0.3

/* Fits every fuse to the cable after it and to what the amplifiers behind it take: oversized ones down, those of thicker cable up as far
 * as is needed; a cable without a fuse gets one, a relay a rating for its inrush. `system` is what the settings gave; adds the necessary
 * changes (remedy_fuses.c). */
TAILVOLT_CHECKED enum tailvolt_status tv_fit_fuses(const struct tailvolt_system *base,
                                                   const struct tailvolt_system *system,
                                                   struct tv_settings *settings, bool *changed);
/* Where a system has the conductor of another of its kind and name; -1 = it has none. */
int tv_conductor_in(const struct tailvolt_system *system, const struct tailvolt_conductor *like);
/* Whether that brought a fuse down below what its amplifiers take: the cable is too thin for them. */
TAILVOLT_CHECKED enum tailvolt_status tv_fuses_cut_short(const struct tailvolt_system *base, const struct tailvolt_system *system,
                                                         bool *cut);

/* How far a run in longer steps may settle a trial. */
enum tv_foresight {
  TV_GUESS_NOTHING,
  TV_GUESS_FAILURE,   /* where it is cut short as failed, and so would be the run in full */
  TV_GUESS_OUTCOME,   /* whether it holds: wherever that is clear */
  TV_GUESS_SHOWN      /* the same of what is shown with its figures if it ends: what is not clear is left open, to be run in full
                       * beside others */
};

struct tv_trial {
  struct tv_choice choice;
  bool to_the_end;   /* required: do not stop once it has failed */
  enum tv_foresight guess;
  bool expected;     /* likely to hold: its capacitor's own trials run beside its first */
  int ideal;         /* enum tailvolt_ideal, -1 = none */
  bool raw;          /* the system as it is, fuses not fitted */
  bool again;        /* the reference for capacitors: over again too */
  /* outcome */
  bool done, meets, whole; /* meets: it holds, wanted playing time included; whole: ran to the end of the profile */
  bool foreseen;           /* settled by longer steps: no voltages, no result, and `marginal` means that it may be */
  bool open;               /* longer steps did not settle it, and it was not run in full */
  bool cut_short;          /* failed before the end */
  bool notes_clear;        /* longer steps showed that it copes with held bass notes: a run in full need not */
  bool refused;            /* would hold but for its capacitor's own trials: says nothing about sets without one */
  bool marginal;           /* nearly holds: no target missed, little to spare */
  bool counted, unsure;    /* its cars were counted; fewer of them hold than were asked for */
  bool by_charge;          /* ... because they lose charge */
  double parked_s; /* thorough for the system as it is, as the parked study answers; else quick_s */
  double quick_s;  /* by the quick search, with which trials are compared */
  double margin_again_v; /* of the run over again; NAN = none */
  double margin_v; /* lowest voltage less its target; for a capacitor once its first charge is spent */
  double low_v; /* voltage that it is below for 1 % of the time, less its target, worst amplifier and phase; NAN = cut
                 * short */
  struct tailvolt_result *result; /* NULL where it was stopped */
  enum tailvolt_status status;
  char error[TAILVOLT_TEXT_MAX];
};

/* What was learnt about choices. */
struct tv_known {
  int count, room;
  struct tv_trial *trial; /* results of passing ones are kept */
};

struct tv_bisection;
struct tv_labels;

/* Everything of one search. */
struct tv_remedy_job {
  const char *text, *name;
  const struct tailvolt_setting *settings;
  int setting_count;
  const struct tailvolt_profile *profile;
  const struct tailvolt_profile *road; /* of the same day, on which each trial has a balance of its own; NULL = not needed */
  struct tailvolt_profile *over_again; /* NULL where the profile is long enough */
  double margin_again_v;               /* of the system with its fuses put right, over_again; NAN = not run */
  struct tailvolt_remedy_options options;
  double parked_s; /* NAN = no such target */
  double quick_before_s; /* playing time of the system as it is, by the quick search */
  bool slow_rows;  /* some turn slower than idle speed */
  struct tv_catalogue catalogue;
  struct tailvolt_system *system;
  struct tv_programmes *programmes;  /* of that system: read or generated once for all runs */
  struct tv_labels *labels;          /* of its batteries and those of such cars, solved once for all runs */
  struct tv_programmes *smooth_programmes; /* the same without ripple ... */
  struct tv_parked_quick quick;      /* ... and what that adds, where a playing time is wanted */
  struct tv_plan plan;
  double *play_s;  /* [amplifier * phases] of the base run; NULL until it is done */
  double in_set_v[TV_FAMILIES_MOST]; /* what the chosen set's 1 % voltage loses without a family; NAN = not in it */
  bool charge_short; /* the battery loses charge while the engine runs */
  double fitted_ah; /* charge balance of the system with its fuses put right */
  atomic_bool stop;
  struct tv_lock reporting; /* progress, by one thread at a time */
  double long_step_s; /* to foresee outcomes with; 0 = not here */
  struct tv_known facts; /* of a search that is being repeated */
  int runs, whole_runs;
  int beside_runs;   /* of what goes on beside a search: not among `runs`, by which that ends */
  bool by_cars;      /* a set must hold in options.sure_frac of such cars too */
  int counted_sets;  /* so far, TV_COUNTED_MOST at most */
  double done_frac, stage_from, stage_to; /* of progress */
  int stage_runs, stage_done, batch;
  atomic_int batch_done; /* of the batch that is running, in thousandths */
  char error[TAILVOLT_TEXT_MAX];
};

/* Tries all of a list in parallel; each outcome depends on its own trial alone. */
TAILVOLT_CHECKED enum tailvolt_status tv_try(struct tv_remedy_job *job, struct tv_trial *trials, int count);
/* Runs foreseen trials in full; each takes the place of what was foreseen. */
TAILVOLT_CHECKED enum tailvolt_status tv_confirm(struct tv_remedy_job *job, struct tv_trial *const *trials, int count);
/* Settings of a choice with its fuses fitted, and the system they give (either may be NULL). */
TAILVOLT_CHECKED enum tailvolt_status tv_try_settings(const struct tv_remedy_job *job, const struct tv_choice *choice,
                                                      struct tv_settings *settings, struct tailvolt_system **system,
                                                      char *error);
void tv_trial_clear(struct tv_trial *trial);

/* ---- longer steps (remedy_foresee.c) ---- */

enum tv_outlook { TV_OUTLOOK_BAD, TV_OUTLOOK_OPEN, TV_OUTLOOK_GOOD };
/* The step to foresee outcomes with; 0 = none is enough longer. */
double tv_foresee_step_s(const struct tv_remedy_job *job);
/* Whether a run in full would stay `from_v` above the target and do all else that a set must, by the result of one in longer steps:
 * job->long_step_s, or half of it where `coarser_v` is what the former gave (else NAN). `road_a`: its balance on the road, where that is a
 * profile of its own; NAN = none. */
enum tv_outlook tv_outlook(const struct tv_remedy_job *job, const struct tailvolt_system *system, const struct tailvolt_result *result,
                           double road_a, double coarser_v, double from_v);

/* ---- before any search (remedy_alone.c) ---- */

/* As it is, with one thing ideal, and what runs beside those. */
enum { TV_FIRST_MOST = 2 + TAILVOLT_COUNTERFACTUALS + 2 };
struct tv_first {
  int count;
  struct tv_trial trial[TV_FIRST_MOST];
  struct tv_known ahead; /* what is likely to be asked for next, in lanes left; counted once it is */
};
TAILVOLT_CHECKED enum tailvolt_status tv_run_before(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_first *first);
void tv_first_clear(struct tv_first *first);
TAILVOLT_CHECKED enum tailvolt_status tv_run_alone(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                                   struct tv_first *first);
TAILVOLT_CHECKED enum tailvolt_status tv_run_smallest(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
                                                      struct tv_known *known, struct tv_first *first);
TAILVOLT_CHECKED enum tailvolt_status tv_run_wire_sizes(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
                                                        struct tv_known *known);
/* Keeps the outcomes of cures run to the end and shows them in the table. */
TAILVOLT_CHECKED enum tailvolt_status tv_take_alone(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                                    struct tv_trial *trials, int count);
/* The next stage of progress, up to a share of all. */
void tv_remedy_stage(struct tv_remedy_job *job, double to, int runs);
/* Progress of the whole search, and where a request to stop is noticed. Threads take turns. */
bool tv_remedy_asked_to_stop(struct tv_remedy_job *job);

/* The smallest sufficient size, alone, of each family whose largest suffices, all families at once. */
enum { TV_BISECTED_MOST = 5 * TV_FAMILIES_MOST };
struct tv_bisection {
  bool level;                     /* of the level alone, else of all others */
  struct tv_known tried;          /* what was run for it */
  struct tv_known ahead;          /* run in full where lanes were left, in case it is asked for; counted once it is */
  int count, path[TV_BISECTED_MOST]; /* on its way: index in `tried` */
  int low[TV_FAMILIES_MOST], high[TV_FAMILIES_MOST]; /* how far it came; at its end `high` is enough */
};
/* Finds its way, all of it that is shown run in full. */
TAILVOLT_CHECKED enum tailvolt_status tv_bisect(struct tv_remedy_job *job, const struct tv_known *known, struct tv_bisection *b);
/* Shows what is on the way, and frees the bisection. */
TAILVOLT_CHECKED enum tailvolt_status tv_bisect_take(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                                     struct tv_bisection *b);

/* ---- runs (remedy_runs.c) ---- */

/* Side by side, in steps of that length; 0 = in full. road_a: [count] each one's balance on the road; NULL = that of the options. */
TAILVOLT_CHECKED enum tailvolt_status tv_remedy_run_in_steps(struct tv_remedy_job *job, struct tv_lane_job *lanes, int count,
                                                             double step_s, const double *road_a);
/* Runs systems through a profile, side by side: of each lane only the system is given, and `stop` with its `context` where it
 * should end early for more than the user's wish. Its results are the caller's. */
TAILVOLT_CHECKED enum tailvolt_status tv_remedy_runs(struct tv_remedy_job *job, const struct tailvolt_profile *profile,
                                                     struct tv_lane_job *lanes, int count);
/* The profile repeated until TV_LONG_S; *out = NULL where it is that long already. By then a capacitor's initial charge
 * is spent: what remains is what it is good for. */
TAILVOLT_CHECKED enum tailvolt_status tv_remedy_over_again(const struct tailvolt_profile *profile,
                                                           const struct tailvolt_system *system,
                                                           struct tailvolt_profile **out);
#define TV_LONG_S 300.0
/* Prepares that: what ripple adds on the system as it is. */
TAILVOLT_CHECKED enum tailvolt_status tv_remedy_calibrate(struct tv_remedy_job *job);
/* Playing time with the engine off, by the quick search or as the parked study finds it; NAN where it cannot be found. */
TAILVOLT_CHECKED enum tailvolt_status tv_remedy_parked(struct tv_remedy_job *job, const struct tailvolt_system *system,
                                                       bool thoroughly, double *until_s);

/* What a search may choose from. */
struct tv_scope {
  struct tv_choice base;  /* in every set */
  unsigned families;      /* one bit each: those that may be added or raised */
  int must;               /* a family that every set must have; -1 = none */
};

/* What to search, one after the other, until a set is found; returns how many. */
enum { TV_SCOPES_MOST = 5 };
int tv_scopes(const struct tv_remedy_job *job, enum tailvolt_shortage shortage, const struct tv_known *known,
              struct tv_scope scopes[TV_SCOPES_MOST]);

/* The cheapest choice that holds, of at most most_parts families besides the base, and runners-up from other
 * families. `known` holds what has been tried and grows. best = -1: none. */
TAILVOLT_CHECKED enum tailvolt_status tv_search(struct tv_remedy_job *job, const struct tv_scope *scope,
                                                struct tv_known *known, int *best, int *runner_up_count,
                                                int runners_up[TAILVOLT_RUNNERS_UP], bool *exhausted);
/* What a trial that did not hold says about another choice: no more of anything, and it does not hold either. More is never worse, but a
 * capacitor has its own trials, which a set without one need not pass; one that could not be run, its settings refused, say, tells of
 * itself alone. */
bool tv_rules_out(const struct tv_plan *plan, const struct tv_trial *tried, const struct tv_choice *choice);
/* What a set that holds in too few cars says about another: it does too, if it has no more of anything. Where charge is lost a further
 * battery may be the cause, so that what stores and generates must be the same. */
bool tv_unsure_too(const struct tv_plan *plan, const struct tv_trial *unsure, const struct tv_choice *choice);
/* The cheapest known set, of one change at least, that nearly holds (marginal) and costs less than `below`; -1 = none. */
int tv_known_marginal(const struct tv_remedy_job *job, const struct tv_known *known, double below);

/* ---- what has been run (remedy_known.c) ---- */

/* Takes the trial over; without memory it is cleared. */
TAILVOLT_CHECKED enum tailvolt_status tv_known_add(struct tv_known *known, struct tv_trial *trial);
void tv_known_free(struct tv_known *known);
const struct tv_trial *tv_find_known(const struct tv_known *known, const struct tv_choice *choice); /* NULL = not tried */

/* Lowest voltage less its target, worst amplifier and phase; INFINITY where nothing plays. */
double tv_margin_v(const struct tailvolt_result *result);
double tv_low_v(const struct tailvolt_result *result);
double tv_below_pct(const struct tailvolt_result *result);
double tv_charge_ah(const struct tailvolt_result *result); /* left at the end, of all batteries */

/* Adds a caution at the end of a list, its numbers not set; NULL = out of memory. */
struct tailvolt_remedy_caution *tv_add_remedy_caution(struct tailvolt_remedy_caution **list, int *count,
                                                      enum tailvolt_remedy_caution_kind kind);
/* Hazards of the cures in a choice, and what its run warns of that the run before did not. */
TAILVOLT_CHECKED enum tailvolt_status tv_cure_cautions(const struct tv_remedy_job *job, const struct tv_choice *choice,
                                                       const struct tailvolt_result *before,
                                                       struct tailvolt_remedy_set *set);
/* A known set with its changes, prices and fuses; takes over the trial's result. */
TAILVOLT_CHECKED enum tailvolt_status tv_remedy_make_set(const struct tv_remedy_job *job, struct tv_trial *trial,
                                                         bool steady, const struct tailvolt_result *before,
                                                         struct tailvolt_remedy_set *set);
/* The five plain lines. */
void tv_answer(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy, const struct tv_choice *chosen,
               struct tailvolt_answer *answer);
/* What is short, judged from the runs with one thing made ideal. */
enum tailvolt_shortage tv_shortage(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy);
/* Its sentence. */
void tv_diagnose(const struct tv_remedy_job *job, struct tailvolt_remedy *remedy);
bool tv_loses_charge(const struct tailvolt_result *result);
/* Nothing about safety fails. */
bool tv_is_safe(const struct tailvolt_result *result);
#define TV_WORTH_V 0.05  /* a smaller gain is none: no meter at the car would show it */
#define TV_WORTH_PCT 1.0 /* nor is less time saved below the target, in points */

/* ---- such cars (remedy_sure.c) ---- */

enum { TV_COUNTED_MOST = 40 };
/* Counts the cars in which a trial's set holds, and marks it `unsure` where those are too few. */
TAILVOLT_CHECKED enum tailvolt_status tv_remedy_count_cars(struct tv_remedy_job *job, struct tv_trial *trial);
/* In how many such cars the system as it is holds, by its run: nothing is said where they were drawn already or are not asked for. */
TAILVOLT_CHECKED enum tailvolt_status tv_remedy_draw_before(struct tv_remedy_job *job, const struct tailvolt_result *before,
                                                            struct tailvolt_certainty *out);
/* In how many such cars each named set holds. */
TAILVOLT_CHECKED enum tailvolt_status tv_remedy_draw_sets(struct tv_remedy_job *job, struct tailvolt_remedy *remedy);

#endif
