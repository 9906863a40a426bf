/* Making a battery: constants of its kind, values from its label, values stated outright. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/battery_model.h"

static void set_linear_branch(struct tv_battery *battery, int b, double ohm, double tau_s) {
  battery->branch_ohm[b] = ohm;
  battery->branch_s[b] = tau_s;
  battery->branch_f[b] = ohm > 0.0 ? tau_s / ohm : 0.0;
  battery->branch_siemens[b] = ohm > 0.0 ? 1.0 / ohm : 0.0;
}

static void set_branches(struct tv_battery *battery, const struct tailvolt_battery *spec) {
  const struct tv_battery_kind *kind = battery->kind;
  battery->circuit = spec->polarization_count > 0;
  if (battery->circuit) {
    battery->branch_count = spec->polarization_count;
    for (int b = 0; b < spec->polarization_count; b++)
      set_linear_branch(battery, b, spec->polarization_ohm[b], spec->polarization_s[b]);
    return;
  }
  battery->branch_count = 3;
  battery->transfer_ohm = kind->transfer_ohm_ah / spec->capacity_ah;
  battery->branch_f[0] = kind->surface_f_per_ah * spec->capacity_ah;
  battery->branch_f[2] = kind->tail_f_per_ah * spec->capacity_ah;
  set_linear_branch(battery, 1, kind->slow_ohm_ah / spec->capacity_ah, kind->slow_s);
}

enum tailvolt_status tv_battery_create_full(const struct tailvolt_battery *spec,
                                            const struct tv_battery_kind *kind, struct tv_battery **out,
                                            char *error) {
  *out = NULL;
  if (error) error[0] = '\0';
  struct tv_battery *battery = calloc(1, sizeof *battery);
  if (!battery) return TAILVOLT_NO_MEMORY;
  battery->kind = kind;
  battery->start_frac = 1.0;
  battery->start_v = (double)NAN;
  battery->available_frac = 0.5;
  battery->exchange_per_s = kind->exchange_per_h / 3600.0;
  battery->usable_c = spec->capacity_ah * 3600.0;
  battery->cranking_health_frac = 1.0;
  set_branches(battery, spec);
  tv_battery_make_curve(battery, spec);
  battery->fixed_ohmic = !isnan(spec->resistance_ohm);
  battery->ohmic_ohm =
      battery->fixed_ohmic ? spec->resistance_ohm : kind->resistance_ohm_ah / spec->capacity_ah;

  enum tailvolt_status status = TAILVOLT_OK;
  if (!battery->circuit || !battery->fixed_ohmic) status = tv_battery_solve_label(battery, spec, error);
  if (status != TAILVOLT_OK) {
    free(battery);
    return status;
  }
  battery->label_ah = spec->capacity_ah;
  *out = battery;
  return TAILVOLT_OK;
}

void tv_battery_put_condition(struct tv_battery *battery, const struct tailvolt_battery *spec) {
  memcpy(battery->name, spec->name, sizeof battery->name);
  battery->label_health_frac = spec->health_frac;
  battery->usable_c *= spec->health_frac;
  battery->cranking_health_frac = spec->cranking_health_frac;
  if (!battery->fixed_ohmic) battery->ohmic_ohm /= spec->cranking_health_frac;
  battery->start_frac = spec->soc_frac;
  battery->start_v = spec->rested_v;
  /* after the label tests, which the protection would end early */
  battery->guarded = battery->kind->guarded;
  battery->overload_a = fmax(2.0 * spec->capacity_ah, 1.2 * fmax(battery->cranking_a, 0.0));
}

enum tailvolt_status tv_battery_create_kind(const struct tailvolt_battery *spec,
                                            const struct tv_battery_kind *kind, struct tv_battery **out,
                                            char *error) {
  enum tailvolt_status status = tv_battery_create_full(spec, kind, out, error);
  if (status == TAILVOLT_OK) tv_battery_put_condition(*out, spec);
  return status;
}

enum tailvolt_status tv_battery_create(const struct tailvolt_battery *spec, struct tv_battery **out,
                                       char *error) {
  return tv_battery_create_kind(spec, &tv_battery_kinds[spec->kind], out, error);
}

struct tv_battery *tv_battery_copy(const struct tv_battery *battery) {
  struct tv_battery *copy = malloc(sizeof *copy);
  if (copy != NULL) *copy = *battery;
  return copy;
}

void tv_battery_free(struct tv_battery *battery) {
  free(battery);
}
