/* The electrical side of a cable or strap from what is stated: size, strands, diameter or ohms per metre. */
#include <math.h>
#include <string.h>

#include "input/system_draft.h"
#include "parts/conductor.h"
#include "text/text.h"

bool tv_cable_section(struct tv_draft *draft, const struct tv_part *part, struct tailvolt_conductor *c) {
  /* bunched strands fill about 0.60 of the circle around them: ISO 6722 maximum diameters and resistances
   * give 0.48 to 0.61 */
  const double fill_frac = 0.60, pi = 3.14159265358979323846;
  struct tv_section section = {0};
  c->material = (enum tailvolt_material)(tv_has(part, TV_K_MATERIAL) ? tv_word(part, TV_K_MATERIAL) : 0);
  enum tv_key_id by = TV_KEY_COUNT;
  static const enum tv_key_id keys[] = {TV_K_STRANDS, TV_K_CONDUCTOR_DIAMETER, TV_K_PER_METRE, TV_K_SIZE};
  for (size_t k = 0; k < sizeof keys / sizeof keys[0] && by == TV_KEY_COUNT; k++)
    if (tv_has(part, keys[k])) by = keys[k];
  if (by == TV_KEY_COUNT || part->value[by]->bad) return false;
  const struct tv_value *value = part->value[by];
  double x = value->x[0];
  bool fine = false;
  if (by == TV_K_SIZE && value->word == 1)
    fine = tv_section_from_awg((int)x, c->material, &section);
  else if (by == TV_K_SIZE)
    fine = tv_section_from_mm2(x * 1e6, c->material, &section);
  else if (by == TV_K_STRANDS)
    fine = tv_section_from_true_area(value->y[0] * pi * x * x / 4.0, c->material, &section);
  else if (by == TV_K_CONDUCTOR_DIAMETER)
    fine = tv_section_from_true_area(fill_frac * pi * x * x / 4.0, c->material, &section);
  else
    fine = tv_section_from_resistance(x, c->material, &section);
  if (!fine) {
    if (draft != NULL && !value->assumed)
      tv_part_fault(draft, part, by, "'%s = %.60s' is not a size of cable that can be modelled",
                    tv_key_of(by)->name, value->raw);
    return false;
  }
  if (by == TV_K_PER_METRE)
    tv_quantity_write(c->size, sizeof c->size, x, TV_PER_METRE, false);
  else
    tv_copy_text(c->size, sizeof c->size, value->text);
  c->parallel = tv_has(part, TV_K_SIZE) && part->value[TV_K_SIZE]->y[0] > 1.0 ? (int)part->value[TV_K_SIZE]->y[0] : 1;
  section.r20_ohm_per_m /= c->parallel;
  c->resistance_ohm = section.r20_ohm_per_m * c->length_m;
  c->area_m2 = tv_material_resistivity_ohm_m(c->material) / section.r20_ohm_per_m;
  c->outer_m = section.outer_m;
  c->temperature_per_k = tv_material_temperature_per_k(c->material);
  return true;
}

double tv_claimed_ohm(const struct tv_part *part, const struct tailvolt_conductor *c) {
  const double drop_share = 1.25, section_share = 1.15;
  bool drop = tv_has(part, TV_K_MEASURED_DROP);
  bool counted = tv_has(part, TV_K_STRANDS) || tv_has(part, TV_K_CONDUCTOR_DIAMETER) || tv_has(part, TV_K_PER_METRE);
  if (!tv_given(part, TV_K_SIZE) || part->value[TV_K_SIZE]->bad || (!drop && !counted)) return (double)NAN;
  struct tailvolt_conductor sold = {.length_m = c->length_m};
  struct tv_part claim = {.kind = part->kind};
  claim.value[TV_K_SIZE] = part->value[TV_K_SIZE];
  claim.value[TV_K_MATERIAL] = part->value[TV_K_MATERIAL];
  if (!tv_cable_section(NULL, &claim, &sold)) return (double)NAN;
  return c->resistance_ohm > (drop ? drop_share : section_share) * sold.resistance_ohm ? sold.resistance_ohm
                                                                                        : (double)NAN;
}
