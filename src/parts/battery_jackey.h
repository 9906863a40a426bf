/* Jackey's circuit of a lead-acid battery (SAE 2007-01-0778), after Ceraolo (IEEE Trans. Power Systems 15(4),
 * 2000).
 *
 * The other published form, cell by cell, for constant currents; main-branch current positive in CHARGE as in
 * the papers. A second opinion on the two wells of the time loop, and the way to use parameters published in
 * this form. */
#ifndef TV_PARTS_BATTERY_JACKEY_H
#define TV_PARTS_BATTERY_JACKEY_H

#define TV_JACKEY_POINTS 8

struct tv_jackey {
  double nominal_a;         /* I* */
  double capacity_ah;       /* C0*, at I* and 0 C, before the temperature factor */
  double gain;              /* Kc > 1 */
  double power;             /* delta */
  double freezing_c;        /* theta_f, Celsius, below zero */
  double temperature_power; /* epsilon; 0 = the table below */
  int point_count;
  double point_c[TV_JACKEY_POINTS], point_factor[TV_JACKEY_POINTS]; /* Kt of Celsius */
  double emf_v, emf_v_per_k;                                        /* Em0, KE */
  double r00_ohm, a0;
  double r10_ohm, branch_s; /* tau1 */
  double r20_ohm, a21, a22;
  double parasitic_s, parasitic_v, parasitic_temperature; /* Gp0 siemens, Vp0, Ap */
};

extern const struct tv_jackey tv_jackey_sae_50ah;      /* distributed with SAE 2007-01-0778 */
extern const struct tv_jackey tv_jackey_ceraolo_500ah; /* values from memory */

double tv_jackey_capacity_ah(const struct tv_jackey *set, double current_a, double temperature_c);
double tv_jackey_emf_v(const struct tv_jackey *set, double soc_frac, double temperature_c);
double tv_jackey_r0_ohm(const struct tv_jackey *set, double soc_frac);
/* Depth-of-charge branch, settled. */
double tv_jackey_r1_ohm(const struct tv_jackey *set, double depth_of_charge_frac);
double tv_jackey_r2_ohm(const struct tv_jackey *set, double soc_frac, double charge_a);
/* Gassing at a settled cell voltage. */
double tv_jackey_parasitic_a(const struct tv_jackey *set, double cell_v, double temperature_c);
/* Cell voltage long into a constant discharge current, `taken_ah` having been drawn from full. */
double tv_jackey_discharge_v(const struct tv_jackey *set, double current_a, double taken_ah,
                             double temperature_c);
/* Main-branch charging current at a held cell voltage, before the depth-of-charge branch has charged up. */
double tv_jackey_charge_a(const struct tv_jackey *set, double soc_frac, double cell_v, double temperature_c);

#endif
