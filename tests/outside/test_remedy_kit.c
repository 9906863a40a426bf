/* A usual pairing in the trade (common practice, no source): a powered subwoofer of some 500 W continuous on an 8 AWG
 * copper kit, engine bay to load bay, fused within 45 cm. It must come out safe with music; the same kit in clad
 * aluminium, or under a continuous tone, must draw a remark. */
#include "support/assert_near.h"

#include <stdio.h>
#include <string.h>

#include "simulate/safety.h"
#include "support/scenes.h"

static const char kit[] =
    "[vehicle]\nambient = 25 C\nbase load = 25 A\n[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 120 A\n"
    "[fuse main]\nrating = %s\nkind = bolt-down\ndistance = 40 cm\n"
    "[cable feed]\nsize = 8 AWG\nlength = 5 m\ninsulation = 105 C\nmaterial = %s\n"
    "[cable ground lead]\nsize = 8 AWG\nlength = 0.6 m\ninsulation = 105 C\nmaterial = %s\n"
    "[amplifier sub]\nrated power = 500 W\nefficiency = 82 %%\n"
    "[programme music]\ncrest factor = %s\nbass note = %s\n";
/* twenty minutes on the road, so the cable reaches its temperature */
static const char road[] = "time_s,engine_rpm,programme\n0,2500,music\n1200,2500,music\n";

static struct tailvolt_result *drive(const char *fuse, const char *material, const char *crest, const char *note,
                                     struct tailvolt_system **system) {
  char text[1024];
  snprintf(text, sizeof text, kit, fuse, material, material, crest, note);
  *system = scene_parse(text);
  struct tailvolt_profile *profile = scene_profile(*system, road);
  struct tailvolt_options options = tailvolt_default_options();
  options.time_step_s = 1e-3;
  options.settle_s = 60.0;
  struct tailvolt_result *result = scene_run(*system, profile, &options);
  tailvolt_profile_free(profile);
  return result;
}

static const struct tailvolt_conductor_result *cable(const struct tailvolt_result *result, const char *name) {
  for (int k = 0; k < result->conductor_count; k++)
    if (result->conductors[k].kind == TAILVOLT_CABLE && strcmp(result->conductors[k].name, name) == 0)
      return &result->conductors[k];
  fail_msg("no cable %s", name);
  return NULL;
}

static const struct tailvolt_conductor *part(const struct tailvolt_system *system, const char *name) {
  for (int k = 0; k < system->conductor_count; k++)
    if (strcmp(system->conductors[k].name, name) == 0) return &system->conductors[k];
  fail_msg("no part %s", name);
  return NULL;
}

static bool reason_says(const struct tailvolt_reason *reason, const char *words) {
  char text[TAILVOLT_TEXT_MAX];
  tailvolt_reason_text(reason, false, text, sizeof text);
  return strstr(text, words) != NULL;
}

static bool says(const struct tailvolt_result *result, enum tailvolt_verdict least, const char *words) {
  for (int k = 0; k < result->reason_count; k++)
    if (result->reasons[k].status >= least && reason_says(&result->reasons[k], words)) return true;
  for (int k = 0; k < result->caution_count && least == TAILVOLT_HOLDS; k++) {
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_finding_text(&result->cautions[k], false, text, sizeof text);
    if (strstr(text, words) != NULL) return true;
  }
  return false;
}

static int about_safety(const struct tailvolt_result *result) {
  int count = 0;
  for (int k = 0; k < result->reason_count; k++) count += result->reasons[k].topic == TAILVOLT_ABOUT_SAFETY;
  return count;
}

static void test_safe_with_music(void **state) {
  (void)state;
  struct tailvolt_system *system;
  struct tailvolt_result *result = drive("60 A", "copper", "10 dB", "45 Hz", &system);
  for (int k = 0; k < result->reason_count; k++)
    if (result->reasons[k].topic == TAILVOLT_ABOUT_SAFETY) print_error("finding %d\n", (int)result->reasons[k].finding.kind);
  assert_int_equal(about_safety(result), 0);
  assert_int_not_equal(result->status, TAILVOLT_FAILS);
  const struct tailvolt_conductor_result *feed = cable(result, "feed");
  /* a fifth of the rated power on average: the cable stays near the air's temperature */
  assert_true(feed->steady_c < 40.0 + 15.0);
  assert_true(feed->steady_c < feed->insulation_limit_c - 40.0);
  /* its volts: 5 m of 2.10 mohm/m at the peak current, warm */
  assert_near(feed->max_drop_v, feed->peak_a * 5.0 * 2.1022e-3 * (1.0 + 0.00393 * (feed->end_c - 20.0)), 0.01);
  assert_true(feed->max_drop_v > 0.3 && feed->max_drop_v < 1.0);
  /* its largest fuse: 70 A in a cabin of 40 C with insulation for 105 C */
  assert_near(tv_safety_largest_fuse_a(system, part(system, "feed"), TAILVOLT_BOLT_DOWN), 70.0, 0.0);
  /* 33 CFR 183.425 table 5, 105 C insulation, 30 C: 80 A; at 40 C by sqrt(65/75): 74.5 A. Within the spread of the
   * published ampacities (6 % for 8 to 2 AWG) */
  assert_near(tv_safety_ampacity_a(system, part(system, "feed")) / 74.5, 1.0, 0.06);
  tailvolt_result_free(result);
  tailvolt_system_free(system);
}

static void test_clad_aluminium_is_remarked(void **state) {
  (void)state;
  struct tailvolt_system *system;
  struct tailvolt_result *result = drive("60 A", "clad aluminium", "10 dB", "45 Hz", &system);
  assert_true(says(result, TAILVOLT_FAILS, "fuse main 60 A too big for 8 AWG clad aluminium"));
  assert_true(says(result, TAILVOLT_HOLDS, "counts as copper 2 sizes thinner"));
  tailvolt_result_free(result);
  tailvolt_system_free(system);
}

/* 500 W of endless sine: about 45 A, which loads a 60 A fuse above three quarters. */
static void test_continuous_tone_is_remarked(void **state) {
  (void)state;
  struct tailvolt_system *system;
  struct tailvolt_result *tone = drive("50 A", "copper", "3.01 dB", "0 Hz", &system);
  assert_true(says(tone, TAILVOLT_MARGINAL, "fuse main 50 A carries"));
  double tone_c = cable(tone, "feed")->steady_c;
  tailvolt_system_free(system);
  struct tailvolt_result *music = drive("50 A", "copper", "10 dB", "45 Hz", &system);
  assert_false(says(music, TAILVOLT_MARGINAL, "fuse main 50 A carries"));
  assert_true(tone_c > cable(music, "feed")->steady_c + 10.0);
  tailvolt_system_free(system);
  tailvolt_result_free(tone);
  tailvolt_result_free(music);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_safe_with_music),
                                     cmocka_unit_test(test_clad_aluminium_is_remarked),
                                     cmocka_unit_test(test_continuous_tone_is_remarked)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
