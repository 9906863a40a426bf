/* Safety of cables, fuses and joints, and the hazards of the parts fitted.
 *
 * Findings come from the system alone (fuse against cable, fuse against battery) and, where a result is
 * given, from what the run did (temperatures, watts, fuses that opened). The positive side is found by
 * walking from the batteries' posts through conductors, never through a source or load. */
#ifndef TV_SIMULATE_SAFETY_H
#define TV_SIMULATE_SAFETY_H

#include "tailvolt/finding.h"
#include "tailvolt/result.h"
#include "tailvolt/system.h"

/* Worst first; no duplicates. Start with memset 0, end with tv_finding_list_free(). */
struct tv_finding_list {
  int count, capacity;
  struct tailvolt_finding *finding;
};

/* A finding without parts, every number NAN. */
struct tailvolt_finding tv_finding(enum tailvolt_finding_kind kind, enum tailvolt_verdict status);
/* Names the next part of a finding. For a cable, strap, joint or fuse the index is the conductor's, and its kind is
 * looked up there; for parts that exist once (vehicle, alternator) the index is ignored. */
void tv_finding_about(struct tailvolt_finding *finding, const struct tailvolt_system *system,
                      enum tailvolt_part_kind kind, int index);
/* Adds it in order, unless it is there already. TAILVOLT_OK or _NO_MEMORY. */
TAILVOLT_CHECKED enum tailvolt_status tv_finding_list_add(struct tv_finding_list *list,
                                                          const struct tailvolt_finding *finding);

/* Trade rules as numbers, so a stricter code can be set. */
struct tv_safety_limits {
  double fuse_distance_m; /* unfused cable allowed between a battery and its fuse: 0.45 (common practice, 18 in) */
  double fuse_distance_fail_m; /* beyond it the cable counts as unfused: 1.8 (72 in, ABYC E-11, sheathed; from
                                  memory) */
  double joint_caution_w;      /* 3 */
  double joint_fail_w;         /* 8 */
  double near_limit_k;         /* a conductor this near its insulation limit is marginal: 10 */
  double cabin_air_c; /* lowest air temperature at which cabin cable is judged, a parked car's summer: 40
                       * (judgement) */
  double post_v;      /* highest voltage lamps and electronics are built for: 15.0 (service practice) */
  double lithium_v;   /* highest charging voltage of four lithium-iron cells: 14.6 (makers' sheets) */
  double lithium_cold_c; /* no charging below: 0 (makers' sheets) */
  double lithium_hot_c;  /* no use above: 55 (makers' sheets, 45 to 60) */
};

struct tv_safety_limits tv_safety_default_limits(void);

/* All findings. `result` may be NULL: static rules only. TAILVOLT_OK or _NO_MEMORY. */
TAILVOLT_CHECKED enum tailvolt_status tv_safety_check(const struct tailvolt_system *system,
                                                      const struct tailvolt_result *result,
                                                      struct tv_finding_list *out);
TAILVOLT_CHECKED enum tailvolt_status tv_safety_check_with(const struct tv_safety_limits *limits,
                                                           const struct tailvolt_system *system,
                                                           const struct tailvolt_result *result,
                                                           struct tv_finding_list *out);
void tv_finding_list_free(struct tv_finding_list *list);

/* Air temperature at which a conductor is judged: the bay's where it runs there, else the cabin's. */
double tv_safety_air_c(const struct tailvolt_system *system, const struct tailvolt_conductor *conductor);
/* What a cable may carry continuously in that air; clad aluminium counts two sizes thinner. NAN for joints
 * and fuses. */
double tv_safety_ampacity_a(const struct tailvolt_system *system, const struct tailvolt_conductor *cable);
/* Largest standard fuse that protects the cable; NAN = none of that kind is small enough. */
double tv_safety_largest_fuse_a(const struct tailvolt_system *system, const struct tailvolt_conductor *cable,
                                enum tailvolt_fuse_kind kind);
/* Smallest standard fuse that carries `rms_a` at 75 % and protects the cable; NAN = there is none. */
double tv_safety_fuse_for_cable(const struct tailvolt_system *system, const struct tailvolt_conductor *cable,
                                enum tailvolt_fuse_kind kind, double rms_a);
/* Lowest ampacity of the cables that a fuse (index of its conductor) protects; NAN = none. */
TAILVOLT_CHECKED enum tailvolt_status tv_safety_protected_a(const struct tailvolt_system *system, int fuse,
                                                            double *ampacity_a, int *cable);

#endif
