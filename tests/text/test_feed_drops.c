/* How people name parts, and the feed path made from a ledger. */
#include "support/assert_near.h"

#include <stdio.h>

#include "support/sample_result.h"
#include "text/feed_drops.h"

static void test_parts_as_spoken(void **state) {
  (void)state;
  static const struct {
    enum tailvolt_part_kind kind;
    const char *name, *said;
  } cases[] = {{TAILVOLT_PART_CABLE, "feed", "feed cable"},
               {TAILVOLT_PART_CABLE, "red cable", "red cable"},
               {TAILVOLT_PART_CABLE, "cable", "cable"},
               {TAILVOLT_PART_STRAP, "engine", "engine strap"},
               {TAILVOLT_PART_JOINT, "body stud", "body stud joint"},
               {TAILVOLT_PART_JOINT, "feed at battery", "feed at battery"},
               {TAILVOLT_PART_CABLE, "feed at battery", "feed at battery cable"},
               {TAILVOLT_PART_FUSE, "main", "main fuse"},
               {TAILVOLT_PART_FUSE, "main fuse", "main fuse"},
               {TAILVOLT_PART_FUSE, "", "fuse"},
               {TAILVOLT_PART_ISOLATOR, "split charge", "split charge relay"},
               {TAILVOLT_PART_ISOLATOR, "isolator", "relay"}};
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    char text[64];
    tv_part_spoken(cases[k].kind, cases[k].name, text, sizeof text);
    assert_string_equal(text, cases[k].said);
  }
}

/* Out along the feed, through the amplifier, back along the ground side; the battery's entries as one. */
static void test_loop_of_a_ledger(void **state) {
  (void)state;
  static struct sample sample;
  static const char *const names[] = {"battery",      "main fuse",       "feed cable",         "bass",
                                      "ground cable", "body stud joint", "negative lead cable"};
  struct tv_feed_drops drops;
  sample_fails(&sample);
  tv_feed_drops_of(&sample.ledger, false, &drops);
  assert_int_equal(drops.count, 7);
  for (int k = 0; k < drops.count; k++) {
    assert_string_equal(drops.part[k].name, names[k]);
    assert_int_equal(drops.part[k].battery, k == 0);
    assert_int_equal(drops.part[k].amplifier, k == 3);
    assert_int_equal(drops.part[k].ground_side, k > 3);
    assert_int_equal(drops.part[k].worst, k == 2);
  }
  assert_near(drops.part[0].drop_v, 0.48, 1e-12);
  assert_near(drops.part[3].drop_v, sample.ledger.terminal_v, 0.0);
}

/* What charging lost is part of the battery's box, and named in it where it is more than a trifle. */
static void test_charging_in_the_battery(void **state) {
  (void)state;
  static struct sample sample;
  struct tv_feed_drops drops;
  sample_fails(&sample);
  sample.entries[1].drop = TAILVOLT_DROP_CHARGING; /* 0.08 V that were polarization */
  tv_feed_drops_of(&sample.ledger, false, &drops);
  assert_string_equal(drops.part[0].name, "battery and charging");
  assert_near(drops.part[0].drop_v, 0.48, 1e-12);
  assert_near(tv_charging_drop_v(&sample.ledger), 0.08, 1e-12);
  /* of several batteries the one that the path begins at is named */
  snprintf(sample.ledger.battery, sizeof sample.ledger.battery, "second");
  tv_feed_drops_of(&sample.ledger, true, &drops);
  assert_string_equal(drops.part[0].name, "second battery and charging");
  snprintf(sample.ledger.battery, sizeof sample.ledger.battery, "battery");
  sample.entries[1].drop_v = 0.04;
  tv_feed_drops_of(&sample.ledger, false, &drops);
  assert_string_equal(drops.part[0].name, "battery");
  assert_near(drops.part[0].drop_v, 0.44, 1e-12);
  assert_near(tv_charging_drop_v(&sample.ledger), 0.0, 0.0);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_parts_as_spoken), cmocka_unit_test(test_loop_of_a_ledger),
                                     cmocka_unit_test(test_charging_in_the_battery)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
