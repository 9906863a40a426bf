/* The charge of batteries, as the verdict judges it.
 *
 * Batteries joined by cable or relay share what they have, and are judged together. A diode or converter lets no charge return: what is
 * behind it is judged by itself, for what the others gain does not help it. */
#ifndef TV_SIMULATE_CHARGE_H
#define TV_SIMULATE_CHARGE_H

#include "tailvolt/result.h"
#include "tailvolt/system.h"

#define TV_ALL_BATTERIES (-1) /* in place of a group */
/* a balance nearer zero than this is zero: a matter of the model, not of a car */
#define TV_BALANCE_SLACK_A 0.02

/* Numbers the groups of a result's batteries, in the batteries' order: `group` of each. */
TAILVOLT_CHECKED enum tailvolt_status tv_charge_group(const struct tailvolt_system *system, struct tailvolt_result *result);
/* Groups to judge one by one, from 0 on; 0 where all are judged together (TV_ALL_BATTERIES): there is but one, or the set point moves,
 * and how much they take at its high end is known for all of them only. */
int tv_charge_groups(const struct tailvolt_result *result);
/* A group's first battery; -1 for all of them. */
int tv_charge_first(const struct tailvolt_result *result, int group);

/* The converter by which alone charge reaches a battery, as an index of isolators; *converter = -1 where there is none. */
TAILVOLT_CHECKED enum tailvolt_status tv_charge_converter(const struct tailvolt_system *system, int battery, int *converter);

/* Mean current into the batteries at their posts in a phase. */
double tv_taken_a(const struct tailvolt_result *result, enum tailvolt_phase phase, int group);
/* The same as the rule counts it: a nearly full battery takes little because it needs little, so what the alternator has to spare
 * counts instead. With a moving set point, at its low end. */
double tv_balance_a(const struct tailvolt_result *result, enum tailvolt_phase phase, int group);
/* Charge above half, Ah, at the start; not below zero. */
double tv_above_half_ah(const struct tailvolt_result *result, int group);
/* Seconds until they are half empty at idle; HUGE_VAL = never. */
double tv_idle_lasts_s(const struct tailvolt_result *result, int group);

#endif
