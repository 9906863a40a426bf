/* The alternator's heat and losses: warm copper gives less field and less output; the engine turns the losses too.
 *
 * Field: at full duty the field current goes with 1/R_f, R_f = R_20 (1 + 0.00393 (T - 20)); near saturation the EMF goes roughly as its
 * square root, so the law's x is multiplied by sqrt(R_f(T_label) / R_f(T)). T_label is the copper temperature of a fully warmed machine
 * in 23 C air, for which the label currents hold (ISO 8854 conditions). Checked against a published hot/cold pair: 0.82 at 2500 rpm.
 * Heat: the winding approaches air + rise with a time constant of 600 s (common practice); rise is proportional to its heat over the
 * fan's cooling. Losses: two diodes 1.6 V x I; stator copper proportional to I^2; field; iron, fan and friction with speed. Scaled by
 * rated current from one measured machine (120 uH, 37 mohm a phase, 106.6 A); efficiency then comes to 60 to 70 % over the four speeds
 * of the weighted test of Implementing Decision (EU) 2017/785, whose baseline machine has 67 %. */
#ifndef TV_PARTS_ALTERNATOR_HEAT_H
#define TV_PARTS_ALTERNATOR_HEAT_H

#define TV_ALTERNATOR_RISE_K 90.0      /* winding above air, fully warmed at rated output (judgement, 80 to 110 K) */
#define TV_ALTERNATOR_LABEL_AIR_C 23.0
#define TV_ALTERNATOR_HEAT_S 600.0

/* Factor on the field share x. 1 at the label's temperature, above when colder. */
double tv_alternator_field_scale(double copper_c);

/* Winding temperature after dt_s. current_share2: mean square of current over rated; x: field share 0 to 1. */
double tv_alternator_heat_step_c(double copper_c, double current_share2, double x, double rotor_rpm,
                                 double air_c, double dt_s);

/* Lost power, W, from the mean and the mean square of the output current. */
double tv_alternator_loss_w(double rated_a, double mean_a, double mean_square_a2, double v, double x,
                            double rotor_rpm, double copper_c);

#endif
