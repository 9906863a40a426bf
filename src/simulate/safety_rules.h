/* The safety rules, one function a group; each adds its findings to the job. */
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
  struct tv_finding next; /* rule and conductor of the finding that comes next; emptied by it */
};

/* Adds one finding about the part "kind name"; a text already there is not added again. */
void tv_find(struct tv_safety_job *job, enum tv_severity status, const char *kind, const char *name,
             const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 5, 6)))
#endif
    ;

const char *tv_conductor_word(enum tailvolt_conductor_kind kind);
/* "8 AWG", as the user wrote it, or the effective area. */
const char *tv_cable_size(const struct tailvolt_conductor *cable, char text[40]);
/* "30 cm" below a metre, else "1.8 m". */
const char *tv_length_text(double length_m, char text[24]);
double tv_air_with(const struct tv_safety_limits *limits, const struct tailvolt_system *system,
                   const struct tailvolt_conductor *conductor);
double tv_ampacity_with(const struct tv_safety_limits *limits, const struct tailvolt_system *system,
                        const struct tailvolt_conductor *cable);
/* Resistance of a battery fit to judge a short circuit: what is stated, else from the cold cranking current
 * and the voltage its standard holds it at (EN 7.5 V, SAE 7.2 V, DIN 9 V). */
double tv_battery_short_ohm(const struct tailvolt_battery *battery);

void tv_rules_battery_cables(struct tv_safety_job *job); /* unfused cables, distance of the main fuse */
void tv_rules_fuse_ratings(
    struct tv_safety_job *job);                  /* fuse against cable, ground leads, breaking capacity */
void tv_rules_fuse_sums(struct tv_safety_job *job); /* several fuses into one cable */
void tv_rules_ground(struct tv_safety_job *job); /* ground as strong as the feed, clad aluminium */
void tv_rules_result(struct tv_safety_job *job); /* temperatures, watts, load of the fuses */
void tv_rules_amplifiers(struct tv_safety_job *job);
void tv_rules_hazards(struct tv_safety_job *job); /* batteries, capacitors, isolators, charging */

#endif
