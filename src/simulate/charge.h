/* The charge of batteries, as the verdict judges it.
 *
 * Batteries joined by cable, or by a relay that closed, share what they have, and are judged together. What is behind a relay that
 * stayed open, a diode or a converter is judged by itself, for what the others gain does not help it.
 *
 * Charging by computer (simulate/swing.h): the balance at the high end counts for the group of the battery that the computer watches, the
 * one that starts the car. What is parted from it at the low end is judged there: the computer goes to the high end for the watched
 * battery alone, and that one soon holds its charge at the low end too. */
#ifndef TV_SIMULATE_CHARGE_H
#define TV_SIMULATE_CHARGE_H

#include "tailvolt/result.h"
#include "tailvolt/system.h"

struct tv_run;

/* Batteries joined in a phase, named by the first of them; -1 = all, joined or not. */
struct tv_group { enum tailvolt_phase joined; int first; };
#define TV_ALL_BATTERIES ((struct tv_group){TAILVOLT_IDLE, -1})
/* a balance nearer zero than this is zero: a matter of the model, not of a car */
#define TV_BALANCE_SLACK_A 0.02

/* For every result, once its phases are known: which batteries were joined in each phase, numbered in the batteries' order, and what they
 * take at the high end. All that follows goes by it. */
TAILVOLT_CHECKED enum tailvolt_status tv_charge_prepare(const struct tv_run *run, struct tailvolt_result *result);
/* Groups to judge one by one, from 0 on; 0 where there is but one, which is TV_ALL_BATTERIES. */
int tv_charge_groups(const struct tailvolt_result *result, enum tailvolt_phase joined);
/* One of them; TV_ALL_BATTERIES for a number below 0. */
struct tv_group tv_charge_group(const struct tailvolt_result *result, enum tailvolt_phase joined, int number);
/* Whether the set point moves for their sake. */
bool tv_charge_swings(const struct tailvolt_result *result, struct tv_group group);

/* The converter by which alone charge reaches a battery, as an index of isolators; *converter = -1 where there is none. */
TAILVOLT_CHECKED enum tailvolt_status tv_charge_converter(const struct tailvolt_system *system, int battery, int *converter);

/* The set point, or the lower end of one that moves; NAN where there is no alternator. */
double tv_charge_lowest_v(const struct tailvolt_system *system);
/* Relays and converters at the alternator that this leaves open, into open[isolators]. */
TAILVOLT_CHECKED enum tailvolt_status tv_charge_left_open(const struct tailvolt_system *system, bool *open);
/* The one between a battery and the alternator that the voltage switches; *isolator = -1 where there is none. */
TAILVOLT_CHECKED enum tailvolt_status tv_charge_stays_open(const struct tailvolt_system *system, int battery, int *isolator);

/* Mean current into the batteries at their posts in a phase, in a use. */
double tv_taken_a(const struct tailvolt_result *result, enum tailvolt_phase phase, struct tv_group group);
double tv_use_taken_a(const struct tailvolt_result *result, enum tailvolt_use use, struct tv_group group);
/* The same as the rule counts it: a nearly full battery takes little because it needs little, so what the alternator has to spare
 * counts instead. With a moving set point, at its low end. */
double tv_balance_a(const struct tailvolt_result *result, enum tailvolt_phase phase, struct tv_group group);
/* The same at the high end. */
double tv_high_balance_a(const struct tailvolt_result *result, enum tailvolt_phase phase, struct tv_group group);
/* The one that decides whether charge is lost for good. */
double tv_counted_a(const struct tailvolt_result *result, enum tailvolt_phase phase, struct tv_group group);
/* Charge above half, Ah, at the start; not below zero. */
double tv_above_half_ah(const struct tailvolt_result *result, struct tv_group group);
/* Seconds until they are half empty at idle; HUGE_VAL = never. */
double tv_idle_lasts_s(const struct tailvolt_result *result, struct tv_group group);

#endif
