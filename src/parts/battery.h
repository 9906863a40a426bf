/* One battery: a constant description made from the label, and a state.
 *
 * Each step the run asks for the straight line  v_mean = e_v - r_ohm * i_mean  (discharge current positive)
 * that holds over the step by the implicit midpoint rule, solves the network and returns the mean current.
 * For a battery with explicit circuit values the line is exact; nonlinear terms are linearised about the last
 * mean current. */
#ifndef TV_PARTS_BATTERY_H
#define TV_PARTS_BATTERY_H

#include <stddef.h>

#include "tailvolt/system.h"

#define TV_BATTERY_BRANCHES (TAILVOLT_BRANCH_MAX + 1)
#define TV_BATTERY_TAIL 2 /* surface-charge branch of a battery made from its label */

/* From here down a battery is being charged. Nearer to zero lies what rounding makes of no current at all, and its sign means nothing. */
#define TV_BATTERY_CHARGED_A (-1e-9)

struct tv_battery; /* constant; owns its curves */

/* What a lithium-iron pack's own electronics are doing. */
enum tv_battery_guard {
  TV_GUARD_CLOSED,    /* connected; every lead-acid battery always */
  TV_GUARD_NO_CHARGE, /* too cold or full: lets current out, not in */
  TV_GUARD_EMPTY,     /* opened at its lowest voltage; a charging voltage closes it again */
  TV_GUARD_OVERLOAD   /* opened by over-current; tries again after a while */
};

/* The protection refuses charge below 0 C and from this charge up; it opens when for the delay the terminals stay below empty
 * or the current above its limit; after over-current it tries again (common practice of such packs). */
#define TV_GUARD_FULL_FRAC 0.9995
#define TV_GUARD_EMPTY_V 10.0
#define TV_GUARD_DELAY_S 0.5
#define TV_GUARD_RETRY_S 30.0

/* Values that follow from temperature alone, and the line as last linearised. */
struct tv_battery_cache {
  /* from temperature */
  double ohmic_ohm;              /* full charge */
  double shift_v;                /* rested voltage relative to 25 C */
  double available_frac;         /* width c of the available well */
  double exchange_per_s;         /* rate k between the wells */
  double transfer_a, transfer_v; /* charge transfer: i = transfer_a * sinh(v / transfer_v) */
  double accept_a_per_v;         /* charge acceptance of the empty battery */
  double tail_a;                 /* leak of the surface charge: i = tail_a * sinh(v / its scale) */
  double gas_a;                  /* gassing at its reference voltage */
  /* from the last linearisation; h_s < 0: none */
  double h_s;
  double low_c, high_c; /* the line holds while the charge (of the available well) is in this range */
  double bound_low_c, bound_high_c;
  double branch_low_v, branch_high_v;
  double u_v, u_per_c;         /* rested voltage u_v + u_per_c * charge */
  double bound_v, bound_per_c; /* the same at the bound well */
  double keep[TV_BATTERY_BRANCHES],
      gain_ohm[TV_BATTERY_BRANCHES]; /* v_mean = keep v + gain i + branch0 shift */
  double branch_shift_v;
  double branch_a, branch_s;          /* charge-transfer current branch_a + branch_s * v */
  double well_keep, well_gain_s;      /* mean head difference = well_keep * old + well_gain_s * i */
  double resistance_ohm;              /* ohmic, at this charge */
  int tail_open;                      /* surface charge is held or may build up; else the branch is shorted */
  double tail_low_v, tail_high_v;     /* the line holds while it is in this range */
  double tail_shift_v, tail_leak_a, tail_leak_s; /* leak tail_leak_a + tail_leak_s * v */
  double gas_s, gas_shift_a;          /* gassing current gas_shift_a + gas_s * v */
  double store_frac;                  /* share of charging current that is stored */
  double inner_shift_v, head_v_per_c; /* inside voltage without current, less what the branches hold */
  double inner_ohm[2];                /* inside resistance to the main current; [1] while charging */
  double line_gain[2], line_shift_v[2], inside_ohm[2], total_ohm[2]; /* with the gassing current in parallel */
  double line_e_v; /* inside voltage without terminal current, for the step begun */
  int charging;    /* which of the two applies in the step begun */
};

/* Plain data: copying it is a snapshot. */
struct tv_battery_state {
  double temperature_c;
  double charge_c;                      /* charge left, coulomb */
  double branch_v[TV_BATTERY_BRANCHES]; /* polarization of each branch, discharge positive */
  double head_c;                        /* bound head above available head, coulomb (two-well model) */
  double loss_j;                        /* running sum of what became heat (and gas) inside */
  double gassed_c;                      /* charge that went into gas and self-discharge, coulomb */
  double guard_s;                       /* time towards or since the guard's last change */
  enum tv_battery_guard guard;
  struct tv_battery_cache cache;
};

struct tv_battery_line {
  double e_v, r_ohm;
};

/* What makes up the mean terminal voltage of a step, as solved: ocv_v - ohmic_v - sum of branch_v = terminal
 * voltage within 1 nV. */
struct tv_battery_drops {
  double ocv_v, ohmic_v;
  int branch_count;
  double branch_v[TV_BATTERY_BRANCHES];
  bool given; /* branches of a circuit, as the file states them; else transfer, slow, wells, surface charge */
};

/* Makes the constant description from label or explicit values.
 * TAILVOLT_OK, _NO_MEMORY, or _BAD_INPUT with `error` (TAILVOLT_TEXT_MAX bytes) naming the labels that cannot
 * be met together. */
TAILVOLT_CHECKED enum tailvolt_status tv_battery_create(const struct tailvolt_battery *spec,
                                                        struct tv_battery **out, char *error);
/* A copy of a battery; NULL where there is no memory. */
struct tv_battery *tv_battery_copy(const struct tv_battery *battery);
void tv_battery_free(struct tv_battery *battery);

/* Rested state at the stated charge or rested voltage: polarization zero. */
void tv_battery_rest(const struct tv_battery *battery, double temperature_c, struct tv_battery_state *state);
/* Temperature changes slowly; the run calls this about once a second. The stored energy's own change with
 * temperature is heat exchanged with the air and goes into loss_j. */
void tv_battery_set_temperature(const struct tv_battery *battery, double temperature_c,
                                struct tv_battery_state *state);

/* The line of a step of h_s seconds (h_s = 0: the instant itself, storage as it stands). */
struct tv_battery_line tv_battery_begin(const struct tv_battery *battery, struct tv_battery_state *state,
                                        double h_s, double last_mean_a);
/* Takes the tangents again about the state and the last mean current, for the time loop, which works out the line and the
 * step's end itself (simulate/kernel_move.inc) and asks when a state has left their range. */
void tv_battery_linearise(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                          double last_mean_a);
/* Ends the step: states advance by the midpoint rule, loss_j grows. */
void tv_battery_end(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                    double mean_a);
/* The parts of the terminal voltage of the step just solved; call before tv_battery_end(). */
void tv_battery_drops(const struct tv_battery *battery, const struct tv_battery_state *state, double h_s,
                      double mean_a, struct tv_battery_drops *drops);

double tv_battery_soc_frac(const struct tv_battery *battery, const struct tv_battery_state *state);
/* Rested open-circuit voltage at the state's charge and temperature. */
double tv_battery_open_circuit_v(const struct tv_battery *battery, const struct tv_battery_state *state);
/* Energy held, from the states: integral of OCV over charge, plus polarization. */
double tv_battery_stored_j(const struct tv_battery *battery, const struct tv_battery_state *state);
/* Usable charge with health applied, Ah. */
double tv_battery_capacity_ah(const struct tv_battery *battery);
/* Present ohmic resistance. */
double tv_battery_resistance_ohm(const struct tv_battery *battery, const struct tv_battery_state *state);

/* Charge that should be left, as a share of capacity: half for lead, a fifth for a lithium-iron pack. */
double tv_battery_least_soc_frac(enum tailvolt_battery_kind kind);
/* Freezing point of the electrolyte; NAN = does not freeze in a vehicle (lithium-iron). */
double tv_battery_freezing_c(enum tailvolt_battery_kind kind, double soc_frac);

/* What was derived from the label and what the standard tests give with it: lines of at most 100 columns,
 * each ended by a line feed. Like snprintf, returns the length wanted and writes at most `size` bytes
 * including the terminator. */
size_t tv_battery_explain(const struct tv_battery *battery, char *text, size_t size);

/* Reserve minutes for a label that does not state them; NAN for batteries smaller than any that starts a car. */
double tv_battery_reserve_min(enum tailvolt_battery_kind kind, double capacity_ah);
/* The reserve on the label of a like battery of another capacity; NAN where it is the usual one, which follows the capacity. */
double tv_battery_reserve_scaled_min(const struct tailvolt_battery *battery, double to_ah);

#endif
