#include "numeric/root.h"

#include "support/assert_near.h"

#include <math.h>

static int calls;

static double cosine_less_x(double x, void *context) {
  (void)context;
  calls++;
  return cos(x) - x;
}

static double hole(double x, void *context) {
  (void)context;
  return x > 0.2 && x < 0.9 ? (double)NAN : x - 0.5;
}

static double above(double x, void *context) {
  (void)context;
  return 1 + x * x;
}

static void test_finds(void **state) {
  (void)state;
  struct tv_bracket b = {0, 1, 0};
  assert_true(tv_root(cosine_less_x, NULL, &b, 1e-12, 0, 60));
  assert_near(b.root, 0.7390851332151607, 1e-12); /* Dottie's number */
  assert_true(b.low <= 0.7390851332151607 && b.high >= 0.7390851332151606 && calls < 15);
  /* a wide bracket is enough where that was said */
  b = (struct tv_bracket){0, 1, 0};
  assert_true(tv_root(cosine_less_x, NULL, &b, 0.5, 0, 60));
  assert_true(b.high - b.low <= 0.5);
}

static void test_refuses(void **state) {
  (void)state;
  struct tv_bracket b = {-1, 1, 0};
  assert_false(tv_root(above, NULL, &b, 1e-9, 0, 60));
  b = (struct tv_bracket){0, 1, 0};
  assert_false(tv_root(hole, NULL, &b, 1e-9, 0, 60));
  b = (struct tv_bracket){0.5, 1, 0}; /* not finite at an end */
  assert_false(tv_root(hole, NULL, &b, 1e-9, 0, 60));
  b = (struct tv_bracket){1, 0, 0};
  assert_false(tv_root(cosine_less_x, NULL, &b, 1e-9, 0, 60));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_finds), cmocka_unit_test(test_refuses)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
