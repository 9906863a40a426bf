#include "report/json_budget.h"

#include <math.h>

#include "report/json_write.h"
#include "text/words.h"
#include "tailvolt/budget.h"

struct named_value {
  const char *key;
  double value;
};

static json_t *object_of(const struct named_value *values, int count) {
  json_t *object = json_object();
  for (int k = 0; k < count && object != NULL; k++)
    if (json_object_set_new(object, values[k].key, tv_json_number(values[k].value)) != 0) {
      json_decref(object);
      object = NULL;
    }
  return object;
}

static bool put(json_t **object, const char *key, json_t *value) {
  if (*object != NULL && json_object_set_new(*object, key, value) == 0) return true;
  if (*object == NULL) json_decref(value);
  json_decref(*object);
  *object = NULL;
  return false;
}

#define OBJECT_OF(values) object_of(values, (int)(sizeof(values) / sizeof *(values)))

static json_t *one_use(const struct tailvolt_result *result, int use) {
  const struct tailvolt_budget *budget = &result->uses[use];
  const struct tailvolt_use_result *details = &result->use_details[use];
  struct tailvolt_flat_after flat;
  tailvolt_flat_after_of(result, use, &flat);
  const struct named_value values[] = {{"available_a", budget->available_a},
                                       {"generation_a", budget->generation_a},
                                       {"base_a", budget->base_a},
                                       {"amplifier_a", budget->amplifier_a},
                                       {"battery_a", budget->battery_a},
                                       {"surplus_a", budget->surplus_a},
                                       {"duration_s", budget->duration_s},
                                       {"kept_ah_per_h", details->kept_a},
                                       {"flat_daily_days", flat.days},
                                       {"flat_on_end_h", flat.hours},
                                       {"alternator_v", details->alternator_v},
                                       {"copper_c", details->copper_c}};
  return OBJECT_OF(values);
}

json_t *tv_json_uses(const struct tailvolt_result *result) {
  json_t *object = json_object();
  for (int u = 0; u < TAILVOLT_USES; u++)
    if (result->uses[u].present && !put(&object, tv_use_word(u), one_use(result, u))) return NULL;
  return object;
}

static json_t *one_by_hand(const struct tailvolt_system *system, const struct tailvolt_result *result, int use) {
  const struct tailvolt_budget *simulated = &result->uses[use];
  struct tailvolt_hand_budget hand;
  struct tailvolt_hand_gap gap;
  tailvolt_hand_budget_of(system, &result->use_details[use], &hand);
  tailvolt_hand_gap_of(system, &hand, simulated, &result->use_details[use], &gap);
  const struct named_value values[] = {{"output_a", hand.output_a},
                                       {"base_a", hand.base_a},
                                       {"amplifier_a", hand.amplifier_a},
                                       {"balance_a", hand.balance_a},
                                       {"simulated_a", simulated->battery_a}};
  const struct named_value terms[] = {{"voltage_a", gap.voltage_a},     {"heat_a", gap.heat_a},
                                      {"not_taken_a", gap.not_taken_a}, {"base_a", gap.base_a},
                                      {"amplifier_a", gap.amplifier_a}, {"rest_a", gap.rest_a}};
  json_t *object = OBJECT_OF(values);
  if (object != NULL) put(&object, "difference", OBJECT_OF(terms));
  return object;
}

json_t *tv_json_hand_budget(const struct tailvolt_system *system, const struct tailvolt_result *result) {
  if (system == NULL) return json_null();
  json_t *object = json_object();
  for (int u = 0; u < TAILVOLT_USES; u++)
    if (result->uses[u].present && !put(&object, tv_use_word(u), one_by_hand(system, result, u))) return NULL;
  return object;
}
