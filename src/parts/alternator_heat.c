#include "parts/alternator_heat.h"
#include "parts/elementary.h"

#include <math.h>

#include "parts/alternator.h"

#define COPPER_PER_K 0.00393
#define LABEL_COPPER_C (TV_ALTERNATOR_LABEL_AIR_C + TV_ALTERNATOR_RISE_K)

static double copper_factor(double copper_c) { return 1 + COPPER_PER_K * (copper_c - 20); }

double tv_alternator_field_scale(double copper_c) {
  return sqrt(copper_factor(LABEL_COPPER_C) / copper_factor(copper_c));
}

/* Stator copper makes 0.7 of the heat at rated output, the field 0.3; the fan's air flow is proportional to speed, its cooling to the
 * power 0.6 of it (turbulent flow). Judgement: at idle, full field and half current at a third of the speed run as hot as at rated
 * speed. */
static double rise_k(double current_share2, double x, double rotor_rpm) {
  double cooling = tv_pow(fmin(fmax(rotor_rpm, 600), 12000) / 6000, 0.6);
  return TV_ALTERNATOR_RISE_K * (0.7 * current_share2 + 0.3 * x * x) / cooling;
}

double tv_alternator_heat_step_c(double copper_c, double current_share2, double x, double rotor_rpm,
                                 double air_c, double dt_s) {
  /* standing still: no heat, no fan, only the heat of the block around it */
  double goal_c = air_c + (rotor_rpm > 0 ? rise_k(current_share2, x, rotor_rpm) : 0);
  double tau_s = rotor_rpm > 0 ? TV_ALTERNATOR_HEAT_S : 3 * TV_ALTERNATOR_HEAT_S;
  return goal_c + (copper_c - goal_c) * tv_exp(-dt_s / tau_s);
}

double tv_alternator_loss_w(double rated_a, double mean_a, double mean_square_a2, double v, double x,
                            double rotor_rpm, double copper_c) {
  if (rotor_rpm <= 0) return 0;
  double speed = rotor_rpm / 3000;
  double diodes_w = TV_ALTERNATOR_DIODES_V * mean_a;
  double stator_w = 6.5 * mean_square_a2 / rated_a * copper_factor(copper_c) / copper_factor(LABEL_COPPER_C);
  double field_w = 0.035 * rated_a * x * x * v;
  double turning_w = rated_a * (0.5 * speed + 0.25 * speed * speed);
  return diodes_w + stator_w + field_w + turning_w;
}
