/* A kept label gives the battery that solving it again would, to the last bit. */
#include "support/assert_near.h"

#include <stdio.h>
#include <string.h>

#include "parts/battery_labels.h"
#include "parts/battery_model.h"

static struct tailvolt_battery base(void) {
  struct tailvolt_battery spec = {.name = "starter", .kind = TAILVOLT_FLOODED, .capacity_ah = 70, .cold_cranking_a = 640};
  spec.reserve_min = spec.rested_v = spec.resistance_ohm = (double)NAN;
  spec.soc_frac = 0.85;
  spec.health_frac = 0.8;
  spec.cranking_health_frac = 0.9;
  return spec;
}

static void agree(struct tv_labels *labels, const struct tailvolt_battery *spec) {
  struct tv_battery *kept, *fresh;
  assert_int_equal(tv_battery_create(spec, &fresh, NULL), TAILVOLT_OK);
  assert_int_equal(tv_battery_create_by(labels, spec, &kept, NULL), TAILVOLT_OK);
  assert_memory_equal(kept, fresh, sizeof *kept);
  tv_battery_free(kept);
  tv_battery_free(fresh);
}

static void the_same_bits_as_solved_anew(void **state) {
  (void)state;
  struct tv_labels *labels = tv_labels_make();
  struct tailvolt_battery car = base(), other;
  agree(labels, &car); /* solved and kept */
  other = car;
  snprintf(other.name, sizeof other.name, "second");
  other.health_frac = 0.6;
  other.cranking_health_frac = 1.05;
  other.soc_frac = (double)NAN;
  other.rested_v = 12.4;
  other.vented = true;
  agree(labels, &other); /* from the kept one: same label, another condition */
  /* each of these is another label */
  other = car, other.capacity_ah = 71, agree(labels, &other);
  other = car, other.cold_cranking_a = 641, agree(labels, &other);
  other = car, other.cold_cranking_standard = TAILVOLT_SAE, agree(labels, &other);
  other = car, other.reserve_min = 118, agree(labels, &other);
  other = car, other.kind = TAILVOLT_AGM, agree(labels, &other);
  other = car, other.resistance_ohm = 5e-3, agree(labels, &other);
  other = car, other.empty_v = 11.9, agree(labels, &other);
  other = car, other.polarization_count = 1, other.polarization_ohm[0] = 2e-3, other.polarization_s[0] = 5, agree(labels, &other);
  agree(labels, &car);
  agree(NULL, &car);
  tv_labels_free(labels);
}

static void what_cannot_be_met_is_refused_each_time(void **state) {
  (void)state;
  struct tv_labels *labels = tv_labels_make();
  struct tailvolt_battery spec = base();
  spec.cold_cranking_a = 4000;
  for (int k = 0; k < 2; k++) {
    struct tv_battery *battery;
    char error[TAILVOLT_TEXT_MAX] = "";
    assert_int_equal(tv_battery_create_by(labels, &spec, &battery, error), TAILVOLT_BAD_INPUT);
    assert_non_null(strstr(error, "4000 A"));
  }
  tv_labels_free(labels);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(the_same_bits_as_solved_anew),
                                     cmocka_unit_test(what_cannot_be_met_is_refused_each_time)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
