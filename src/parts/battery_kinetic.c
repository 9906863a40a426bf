/* The kinetic battery model in closed form: see battery_kinetic.h. */
#include "parts/battery_kinetic.h"

#include <math.h>

#include "numeric/root.h"

struct tv_kinetic_wells tv_kinetic_full(const struct tv_kinetic *model) {
  return (struct tv_kinetic_wells){model->available_frac * model->most_ah,
                                   (1.0 - model->available_frac) * model->most_ah};
}

/* kt - 1 + exp(-kt), without loss of digits where kt is small */
static double lag(double kt) {
  if (kt < 1e-3) return kt * kt * (0.5 - kt * (1.0 / 6.0 - kt / 24.0));
  return kt + expm1(-kt);
}

struct tv_kinetic_wells tv_kinetic_after(const struct tv_kinetic *model, struct tv_kinetic_wells wells,
                                         double current_a, double hours) {
  double c = model->available_frac, k = model->rate_per_h, kt = k * hours;
  double fallen = exp(-kt), risen = -expm1(-kt), both_ah = wells.available_ah + wells.bound_ah;
  return (struct tv_kinetic_wells){
      wells.available_ah * fallen + (both_ah * k * c - current_a) * risen / k - current_a * c * lag(kt) / k,
      wells.bound_ah * fallen + both_ah * (1.0 - c) * risen - current_a * (1.0 - c) * lag(kt) / k};
}

double tv_kinetic_delivered_ah(const struct tv_kinetic *model, double hours) {
  double c = model->available_frac, kt = model->rate_per_h * hours;
  return model->most_ah * c * kt / (-expm1(-kt) + c * lag(kt));
}

struct empty {
  const struct tv_kinetic *model;
  double current_a;
};

static double empty_miss_ah(double hours, void *context) {
  const struct empty *empty = context;
  return tv_kinetic_after(empty->model, tv_kinetic_full(empty->model), empty->current_a, hours).available_ah;
}

static double brent(double (*miss)(double, void *), void *context, double low, double high) {
  struct tv_bracket bracket = {low, high, 0};
  return tv_root(miss, context, &bracket, 0, 1e-14, 200) ? bracket.root : (double)NAN;
}

double tv_kinetic_empty_h(const struct tv_kinetic *model, double current_a) {
  /* not before the available well alone would last, nor after all the charge would */
  struct empty empty = {model, current_a};
  double low_h = 0.5 * model->available_frac * model->most_ah / current_a;
  return brent(empty_miss_ah, &empty, low_h, 1.000001 * model->most_ah / current_a);
}

double tv_kinetic_discharge_a(const struct tv_kinetic *model, struct tv_kinetic_wells wells, double hours) {
  double c = model->available_frac, kt = model->rate_per_h * hours,
         both_ah = wells.available_ah + wells.bound_ah;
  return model->rate_per_h * (wells.available_ah * exp(-kt) - both_ah * c * expm1(-kt)) /
         (-expm1(-kt) + c * lag(kt));
}

double tv_kinetic_charge_a(const struct tv_kinetic *model, struct tv_kinetic_wells wells, double hours) {
  double c = model->available_frac, kt = model->rate_per_h * hours,
         both_ah = wells.available_ah + wells.bound_ah;
  return model->rate_per_h * (c * model->most_ah - wells.available_ah * exp(-kt) + both_ah * c * expm1(-kt)) /
         (-expm1(-kt) + c * lag(kt));
}

/* Width that gives the ratio of two delivered charges at rate k. */
static double width_frac(double k, double ratio, double t1_h, double t2_h) {
  double top = -ratio * expm1(-k * t1_h) * t2_h + expm1(-k * t2_h) * t1_h;
  return top / (top - k * ratio * t1_h * t2_h + k * t1_h * t2_h);
}

struct fit {
  double short_h, short_ratio, ten_ratio;
};

static double fit_miss_frac(double k, void *context) {
  const struct fit *fit = context;
  return width_frac(k, fit->short_ratio, fit->short_h, 20.0) - width_frac(k, fit->ten_ratio, 10.0, 20.0);
}

bool tv_kinetic_fit(double short_h, double short_ah, double ten_ah, double twenty_ah,
                    struct tv_kinetic *model) {
  struct fit fit = {short_h, short_ah / twenty_ah, ten_ah / twenty_ah};
  /* the fast root is the right one: at the slow one the capacity drops to its minimum at once */
  double high = 20.0, high_miss = fit_miss_frac(high, &fit);
  for (int j = 0; j < 400; j++) {
    double low = high / 1.03, low_miss = fit_miss_frac(low, &fit);
    double width = width_frac(low, fit.ten_ratio, 10.0, 20.0);
    if (low_miss * high_miss <= 0.0 && width > 0.0 && width < 1.0) {
      double k = brent(fit_miss_frac, &fit, low, high);
      double c = width_frac(k, fit.ten_ratio, 10.0, 20.0), kt = 20.0 * k;
      if (isfinite(k) && c > 0.0 && c < 1.0 && fabs(fit_miss_frac(k, &fit)) < 1e-6) {
        *model = (struct tv_kinetic){c, k, twenty_ah * (-expm1(-kt) * (1.0 - c) + kt * c) / (kt * c)};
        return true;
      }
    }
    high = low;
    high_miss = low_miss;
  }
  return false;
}
