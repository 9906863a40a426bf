/* Several fuses into one cable, and fuses for another voltage. */
#include "simulate/safety_car.h"

/* Two fused leads of the feed's size meet at a block; one cable continues. */
static void two_leads(struct car *car, double each_a, const char *on) {
  make_car(car);
  fit_fuse(car, FUSE, "main", POST, FUSED, each_a, 0.30);
  lay(car, FEED, "lead", FUSED, SPARE + 4, "8 AWG", 5.0);
  fit_fuse(car, FITTED, "twin", POST, SPARE + 5, each_a, 0.30);
  lay(car, FITTED + 1, "twin lead", SPARE + 5, SPARE + 4, "8 AWG", 5.0);
  lay(car, FITTED + 2, "tail", SPARE + 4, PLUS, on, 0.5);
  car->system.conductor_count = FITTED + 3;
}

static void test_two_fuses_into_one_cable(void **state) {
  (void)state;
  struct car car;
  two_leads(&car, 60.0, "8 AWG");
  expect(&car, TAILVOLT_FAILS, "cable tail (8 AWG) is fed through several fuses at once, 120 A in sum, but carries only 65 A");
  /* a cable that can carry both is right, and so are smaller fuses */
  two_leads(&car, 60.0, "2 AWG");
  expect_sound(&car, NULL);
  two_leads(&car, 30.0, "8 AWG");
  expect_sound(&car, NULL);
}

/* A fuse after the meeting point limits the sum; fuses in series count once. */
static void test_a_fuse_where_they_meet(void **state) {
  (void)state;
  struct car car;
  two_leads(&car, 60.0, "8 AWG");
  fit_fuse(&car, FITTED + 3, "joint", SPARE + 4, SECOND, 60.0, (double)NAN);
  lay(&car, FITTED + 2, "tail", SECOND, PLUS, "8 AWG", 0.5);
  car.system.conductor_count = FITTED + 4;
  expect_sound(&car, NULL);
}

/* Each end of a cable between two batteries sees the fuse of its own side only. */
static void test_a_link_between_batteries_is_no_sum(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  expect_none(&car, "several fuses");
  /* anything connected to the far end is fed from both */
  lay(&car, FITTED + 3, "tail", SPARE + 4, SPARE + 6, "25 mm2", 1.0);
  car.system.conductor_count = FITTED + 4;
  expect(&car, TAILVOLT_FAILS, "cable tail (25 mm2) is fed through several fuses at once, 200 A in sum");
  /* a diode that blocks from the front takes that share away */
  car.isolators[0].kind = TAILVOLT_DIODE;
  car.isolators[0].from = SPARE + 4;
  car.isolators[0].to = SPARE + 5;
  expect_none(&car, "several fuses");
}

static void test_rated_voltage_of_a_fuse(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "is rated");
  car.conductors[FUSE].rated_v = 32.0;
  expect_none(&car, "is rated");
  car.conductors[FUSE].rated_v = 24.0;
  expect(&car, TAILVOLT_HOLDS, "fuse main is rated 24 V: fuses for cars are made for 32 V");
  car.conductors[FUSE].rated_v = 12.0;
  expect(&car, TAILVOLT_FAILS, "fuse main is rated 12 V, below the 16 V that a 12 V car can reach");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_two_fuses_into_one_cable), cmocka_unit_test(test_a_fuse_where_they_meet),
      cmocka_unit_test(test_a_link_between_batteries_is_no_sum), cmocka_unit_test(test_rated_voltage_of_a_fuse)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
