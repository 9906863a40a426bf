/* Inside the battery: the constants of a kind, and the description made from the label. */
#ifndef TV_PARTS_BATTERY_MODEL_H
#define TV_PARTS_BATTERY_MODEL_H

#include "parts/battery.h"
#include "parts/battery_curve.h"

#define TV_LABEL_C 25.0       /* label tests except cold cranking, Celsius */
#define TV_CRANKING_C (-18.0) /* EN 50342-1, SAE J537 */
#define TV_ABSOLUTE_C 273.15

/* Everything about a battery that its label does not say. */
struct tv_battery_kind {
  enum tailvolt_battery_kind kind;
  int ocv_count;
  double ocv_frac[TAILVOLT_CURVE_MAX], ocv_v[TAILVOLT_CURVE_MAX]; /* rested, 25 C */
  bool acid_shift;                   /* rested voltage moves with temperature as acid does */
  double reserve_min, reserve_power; /* reserve = reserve_min * C20^reserve_power; 0 = from rate_power */
  double rate_power;                 /* Peukert exponent where there is no reserve relation */
  double cranking_a_per_ah; /* EN, assumed where the label gives none; 0 = none, resistance_ohm_ah instead */
  double resistance_ohm_ah; /* ohmic resistance times capacity where nothing else gives it */
  double ohmic_per_k;       /* exponential fall of the ohmic resistance with temperature */
  double ohmic_soc_gain, ohmic_soc_shift; /* R(s)/R(1) = 1 + gain (1/(s + shift) - 1/(1 + shift)) */
  double transfer_ohm_ah;                 /* small-signal charge-transfer resistance times capacity, 25 C */
  double transfer_v;                      /* voltage scale of its asinh law, 25 C */
  double transfer_per_k;                  /* exponential rise of the exchange current with temperature */
  double surface_f_per_ah;                /* capacitance that holds the surface charge */
  double slow_ohm_ah, slow_s;             /* slow linear branch */
  double tail_f_per_ah;                   /* capacitance of the surface charge that fades over hours; 0 = none */
  double tail_a_per_ah, tail_v;           /* its leak i = tail_a sinh(v / tail_v) at 25 C */
  double exchange_per_h;                  /* rate k of the two wells, 25 C */
  double exchange_per_k;                  /* exponential */
  double available_per_k;                 /* linear growth of the available well with temperature */
  double accept_per_v_h;                  /* charging current per volt of overvoltage and missing Ah, 25 C */
  double accept_doubling_k;
  double accept_floor_frac; /* as a share of capacity: what carries current when nothing is missing */
  double store_frac;        /* share of the charging current stored, far from full */
  double store_end_frac;    /* missing charge (of capacity) within which that share falls to zero */
  double gas_a_per_ah;      /* at gas_at_v and 25 C */
  double gas_at_v, gas_per_v, gas_per_k;
  bool guarded; /* has a pack protection */
};

struct tv_battery {
  const struct tv_battery_kind *kind;
  char name[TAILVOLT_NAME_MAX];
  struct tv_battery_curve curve; /* 25 C */
  bool circuit;                  /* explicit polarization: a linear circuit, no chemistry */
  bool fixed_ohmic, fixed_ocv;
  double usable_c;            /* capacity times health, coulomb */
  double start_frac, start_v; /* one of them NAN */
  double ohmic_ohm;           /* full charge, 25 C, cranking health applied */
  double cranking_health_frac;
  int branch_count;
  double branch_ohm[TV_BATTERY_BRANCHES], branch_s[TV_BATTERY_BRANCHES]; /* linear branches */
  double branch_f[TV_BATTERY_BRANCHES], branch_siemens[TV_BATTERY_BRANCHES];
  double transfer_ohm;   /* small-signal, 25 C */
  double available_frac; /* 25 C */
  double exchange_per_s; /* 25 C */
  double knee_v;
  bool guarded;      /* has a pack protection */
  double overload_a; /* pack protection opens above */
  /* how the label worked out, for the explanation */
  double label_ah, label_health_frac;
  double reserve_min, reserve_a, cranking_a;
  enum tailvolt_cranking_standard cranking_standard;
  bool reserve_assumed, cranking_assumed, solved;
};

extern const struct tv_battery_kind tv_battery_kinds[]; /* indexed by enum tailvolt_battery_kind */

/* As tv_battery_create(), with constants of the caller's own in place of the table's; `kind` must outlive the
 * battery. */
TAILVOLT_CHECKED enum tailvolt_status tv_battery_create_kind(const struct tailvolt_battery *spec,
                                                             const struct tv_battery_kind *kind,
                                                             struct tv_battery **out, char *error);
/* The same in two halves: the battery of the label, at full health; then its health, charge and name. */
TAILVOLT_CHECKED enum tailvolt_status tv_battery_create_full(const struct tailvolt_battery *spec,
                                                             const struct tv_battery_kind *kind,
                                                             struct tv_battery **out, char *error);
void tv_battery_put_condition(struct tv_battery *battery, const struct tailvolt_battery *spec);
/* Finds available_frac, knee and ohmic resistance from the label; works on a battery at full health. */
TAILVOLT_CHECKED enum tailvolt_status
tv_battery_solve_label(struct tv_battery *battery, const struct tailvolt_battery *spec, char *error);
/* Rebuilds the rested-voltage curve after knee_v or the points have changed. */
void tv_battery_make_curve(struct tv_battery *battery, const struct tailvolt_battery *spec);

struct tv_standard_test {
  double volts, seconds;
};
/* Voltage required at the end of a cranking test, and when. */
struct tv_standard_test tv_cranking_test(enum tailvolt_cranking_standard standard);

/* Terminal voltage after `seconds` of constant discharge from full and rested; *end (may be NULL) receives
 * the state then. */
double tv_constant_current_v(const struct tv_battery *battery, double temperature_c, double current_a,
                             double seconds, struct tv_battery_state *end);
/* Time at which a constant discharge from full and rested reaches end_v; at most limit_s. */
double tv_constant_current_s(const struct tv_battery *battery, double temperature_c, double current_a,
                             double end_v, double step_s, double limit_s);

#endif
