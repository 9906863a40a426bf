/* How much lamps dim: the law against its closed form, and a car with lamps where the music pulls. */
#include "support/assert_near.h"

#include <string.h>

#include "simulate/lamp.h"
#include "support/scenes.h"

/* A square wave of voltage, 12.6 V for half of each half second and 14.0 V for the other: lagged by 150 ms it swings between mean
 * -+ 0.7 V tanh(0.25 s / (2 x 0.15 s)), and the light with its cube. */
static void square_wave(void **state) {
  (void)state;
  static struct tv_lamp lamp;
  memset(&lamp, 0, sizeof lamp);
  lamp.watched = lamp.counts = true;
  lamp.window_s = 0.5;
  tv_lamp_clear(&lamp);
  for (int k = 0; k < 20000; k++) tv_lamp_step(&lamp, k / 250 % 2 ? 12.6 : 14.0, 1e-3);
  double swing_v = 0.7 * tanh(0.25 / (2 * TV_LAMP_LAG_S));
  double wanted = 100 * (1 - pow((13.3 - swing_v) / (13.3 + swing_v), 3));
  assert_near(tv_lamp_dim_pct(&lamp), wanted, 0.3);
}

/* 13 V behind 50 mohm; 10 A and 30 A for a quarter of a second each leave 12.5 V and 11.5 V at the lamp, which is at the
 * amplifier: 0.5 V tanh(...) around 12.0 V. The same lamp at the post does not dim, an LED has no figure. */
static void a_lamp_where_the_music_pulls(void **state) {
  (void)state;
  static const char *const lamp_text[] = {
      "[load lamp]\npositive = amplifier plus\nnegative = ground\npower = 1 W\nrated voltage = 12 V\nlamp = halogen\n",
      "[load lamp]\npositive = post\nnegative = ground\npower = 1 W\nrated voltage = 12 V\nlamp = halogen\n",
      "[load lamp]\npositive = amplifier plus\nnegative = ground\npower = 1 W\nrated voltage = 12 V\nlamp = LED\n"};
  char text[4096] = "time_s,supply_a:bass,load:lamp\n";
  for (int k = 0; k <= 40; k++)
    snprintf(text + strlen(text), sizeof text - strlen(text), "%.2f,%d,1\n", 0.25 * k, k % 2 ? 30 : 10);
  double swing_v = 0.5 * tanh(0.25 / (2 * TV_LAMP_LAG_S));
  const double wanted[] = {100 * (1 - pow((12.0 - swing_v) / (12.0 + swing_v), 3)), 0, 0};
  for (int k = 0; k < 3; k++) {
    struct tailvolt_system *system = scene_stiff(13, 0.05, lamp_text[k]);
    struct tailvolt_profile *profile = scene_profile(system, text);
    struct tailvolt_options options = scene_isothermal();
    struct tailvolt_result *r = scene_run(system, profile, &options);
    assert_int_equal(r->lights.known, k < 2);
    if (k < 2) assert_near(r->lights.dim_pct, wanted[k], 0.3);
    tailvolt_result_free(r);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(square_wave), cmocka_unit_test(a_lamp_where_the_music_pulls)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
