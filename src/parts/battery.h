/* One battery: a constant description made from the label, and a state.
 *
 * The run asks, each step, for the straight line  v_mean = e_v - r_ohm * i_mean  (discharge current positive) that holds
 * over the step by the implicit midpoint rule, solves the network, and gives the mean current back. For a battery with
 * explicit circuit values the line is exact; nonlinear terms are linearised about the last mean current. */
#ifndef TV_PARTS_BATTERY_H
#define TV_PARTS_BATTERY_H

#include "tailvolt/system.h"

#define TV_BATTERY_BRANCHES (TAILVOLT_BRANCH_MAX + 1)

struct tv_battery; /* constant; owns its curves */

/* Plain data: copying it is a snapshot. */
struct tv_battery_state {
  double temperature_c;
  double charge_c;                        /* charge left, coulomb */
  double branch_v[TV_BATTERY_BRANCHES];   /* polarization of each branch, discharge positive */
  double more[12];                        /* further states and cached linearisation */
  double loss_j;                          /* running sum of what turned into heat (and gas) inside */
};

struct tv_battery_line { double e_v, r_ohm; };

/* What the mean terminal voltage of a step is made of, as it was solved:
 * ocv_v - ohmic_v - sum of branch_v = terminal voltage within 1 nV. */
struct tv_battery_drops {
  double ocv_v, ohmic_v;
  int branch_count;
  double branch_v[TV_BATTERY_BRANCHES];
};

/* Makes the constant description from label or explicit values.
 * TAILVOLT_OK, _NO_MEMORY, or _BAD_INPUT with `error` (TAILVOLT_TEXT_MAX bytes) naming the labels that cannot be met
 * together. */
TAILVOLT_CHECKED enum tailvolt_status tv_battery_create(const struct tailvolt_battery *spec,
                                                        struct tv_battery **out, char *error);
void tv_battery_free(struct tv_battery *battery);

/* Rested state at the stated charge or rested voltage: polarization zero. */
void tv_battery_rest(const struct tv_battery *battery, double temperature_c,
                     struct tv_battery_state *state);
/* Temperature changes slowly; the run calls this about once a second. */
void tv_battery_set_temperature(const struct tv_battery *battery, double temperature_c,
                                struct tv_battery_state *state);

/* The line of a step of h_s seconds (h_s = 0: the instant itself, storage as it stands). */
struct tv_battery_line tv_battery_begin(const struct tv_battery *battery,
                                        struct tv_battery_state *state, double h_s,
                                        double last_mean_a);
/* Ends the step: states advance by the midpoint rule, loss_j grows. */
void tv_battery_end(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                    double mean_a);
/* The parts of the terminal voltage of the step just solved; call before tv_battery_end(). */
void tv_battery_drops(const struct tv_battery *battery, const struct tv_battery_state *state,
                      double h_s, double mean_a, struct tv_battery_drops *drops);

double tv_battery_soc_frac(const struct tv_battery *battery, const struct tv_battery_state *state);
/* Rested open-circuit voltage at the state's charge and temperature. */
double tv_battery_open_circuit_v(const struct tv_battery *battery,
                                 const struct tv_battery_state *state);
/* Energy held, from the states: integral of OCV over charge, plus polarization. */
double tv_battery_stored_j(const struct tv_battery *battery, const struct tv_battery_state *state);
/* Usable charge with health applied, Ah. */
double tv_battery_capacity_ah(const struct tv_battery *battery);
/* Ohmic resistance now. */
double tv_battery_resistance_ohm(const struct tv_battery *battery,
                                 const struct tv_battery_state *state);

#endif
