/* Depth and frost by kind, against published figures. */
#include "parts/battery.h"
#include "support/assert_near.h"

#include <math.h>

/* Printed table of specific gravity at 27 C against charge (a flooded battery's temperature table). */
static const double GRAVITY[] = {1.120, 1.155, 1.190, 1.225, 1.265};

static double soc_of_gravity(double gravity) {
  int k = 0;
  while (k < 3 && gravity > GRAVITY[k + 1]) k++;
  return 0.25 * (k + (gravity - GRAVITY[k]) / (GRAVITY[k + 1] - GRAVITY[k]));
}

/* Freezing points of sulphuric acid by specific gravity (chemical handbook, values from memory): 1.150 -15, 1.200 -27,
 * 1.250 -52 C; and the vehicle handbook's own -71, -15, +4 F at full, half, quarter charge. */
static void acid_freezes_as_published(void **state) {
  (void)state;
  static const double acid[][2] = {{1.150, -15}, {1.200, -27}, {1.250, -52}};
  for (int k = 0; k < 3; k++) {
    double seen_c = tv_battery_freezing_c(TAILVOLT_FLOODED, soc_of_gravity(acid[k][0]));
    print_message("acid of %.3f: %.1f C, handbook %.0f C\n", acid[k][0], seen_c, acid[k][1]);
    assert_near(seen_c, acid[k][1], 3.0);
  }
  static const double handbook_f[][2] = {{1.0, -71}, {0.5, -15}, {0.25, 4}};
  for (int k = 0; k < 3; k++)
    assert_near(tv_battery_freezing_c(TAILVOLT_AGM, handbook_f[k][0]), (handbook_f[k][1] - 32) / 1.8, 0.6);
  double before_c = 0;
  for (double soc = -0.2; soc <= 1.2; soc += 0.01) {
    double now_c = tv_battery_freezing_c(TAILVOLT_GEL, soc);
    assert_true(now_c < 0 && now_c <= before_c && now_c >= -57);
    before_c = now_c;
  }
  assert_true(isnan(tv_battery_freezing_c(TAILVOLT_LITHIUM_IRON, 0.5)));
}

/* common practice: lead half, lithium-iron 10 to 20 % left, the careful end */
static void depth_by_kind(void **state) {
  (void)state;
  for (int kind = TAILVOLT_FLOODED; kind <= TAILVOLT_GEL; kind++)
    assert_near(tv_battery_least_soc_frac((enum tailvolt_battery_kind)kind), 0.5, 0);
  assert_near(tv_battery_least_soc_frac(TAILVOLT_LITHIUM_IRON), 0.2, 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(acid_freezes_as_published), cmocka_unit_test(depth_by_kind)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
