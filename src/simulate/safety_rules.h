/* The safety rules, one function per group; each adds its findings to the job. */
#ifndef TV_SIMULATE_SAFETY_RULES_H
#define TV_SIMULATE_SAFETY_RULES_H

#include "simulate/safety_graph.h"

struct tv_safety_job {
  const struct tv_safety_limits *limits;
  const struct tailvolt_system *system;
  const struct tailvolt_result *result; /* may be NULL */
  struct tv_protection protection;
  struct tv_finding_list *list;
  enum tailvolt_status status;
};

/* Adds one finding; does nothing once memory has run out. */
void tv_find(struct tv_safety_job *job, const struct tailvolt_finding *finding);
/* A finding whose first part is a conductor, or a battery. */
struct tailvolt_finding tv_finding_of_conductor(const struct tv_safety_job *job, enum tailvolt_finding_kind kind,
                                                enum tailvolt_verdict status, int conductor);
struct tailvolt_finding tv_finding_of_battery(const struct tv_safety_job *job, enum tailvolt_finding_kind kind,
                                              enum tailvolt_verdict status, int battery);

double tv_air_with(const struct tv_safety_limits *limits, const struct tailvolt_system *system,
                   const struct tailvolt_conductor *conductor);
double tv_ampacity_with(const struct tv_safety_limits *limits, const struct tailvolt_system *system,
                        const struct tailvolt_conductor *cable);
/* Battery resistance for judging a short circuit: as stated, else from the cold cranking current and its
 * standard's voltage (EN 7.5 V, SAE 7.2 V, DIN 9 V). */
double tv_battery_short_ohm(const struct tailvolt_battery *battery);

void tv_rules_battery_cables(struct tv_safety_job *job); /* unfused cables, distance of the main fuse */
void tv_rules_fuse_ratings(
    struct tv_safety_job *job);                  /* fuse against cable, ground leads, breaking capacity */
void tv_rules_fuse_sums(struct tv_safety_job *job); /* several fuses into one cable */
void tv_rules_ground(struct tv_safety_job *job); /* ground as strong as the feed, clad aluminium */
void tv_rules_result(struct tv_safety_job *job); /* temperatures, watts, load of the fuses */
void tv_rules_amplifiers(struct tv_safety_job *job);
void tv_rules_batteries(struct tv_safety_job *job); /* where they are, what charges them, frost */
void tv_rules_hazards(struct tv_safety_job *job);   /* capacitors, isolators, sensor, charging */
/* Highest set point between the air of a cold start and a warm bay. */
double tv_highest_set_point_v(const struct tailvolt_system *system);

#endif
