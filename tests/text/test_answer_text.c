/* The sentences of a remedy and of the next step, each from facts made here. */
#include "support/assert_near.h"

#include <math.h>
#include <string.h>

#include "tailvolt/remedy.h"
#include "tailvolt/study.h"

static void is(const char *said, const char *wanted) {
  if (strcmp(said, wanted) != 0) fail_msg("said `%s`, wanted `%s`", said, wanted);
}

static void test_answers(void **state) {
  (void)state;
  static const struct {
    struct tailvolt_answer answer;
    const char *text;
  } table[] = {
      {{.cure = TAILVOLT_CURE_CAPACITOR, .kind = TAILVOLT_ANSWER_NOT_TRIED}, "a capacitor: not tried"},
      {{.cure = TAILVOLT_CURE_GROUND, .kind = TAILVOLT_ANSWER_NO_SUCH_PART},
       "better ground: there is nothing to change here"},
      {{.cure = TAILVOLT_CURE_ALTERNATOR, .kind = TAILVOLT_ANSWER_NOT_IN_CATALOGUE},
       "a bigger alternator: none in the catalogue"},
      {{.cure = TAILVOLT_CURE_FEED, .kind = TAILVOLT_ANSWER_NOT_NEEDED, .with = "4 AWG feed", .gain_v = 0.314},
       "thicker cable: not needed; 4 AWG feed would bring 0.31 V"},
      {{.cure = TAILVOLT_CURE_SECOND_BATTERY, .kind = TAILVOLT_ANSWER_NOT_NEEDED, .with = "20 Ah AGM", .gain_v = -0.34},
       "a second battery: not needed; 20 Ah AGM would lower the voltage by 0.34 V"},
      {{.cure = TAILVOLT_CURE_FEED, .kind = TAILVOLT_ANSWER_IN_SET, .with = "4 AWG feed", .gain_v = 0.5, .gain_in_set = true},
       "thicker cable: needed in this set; without 4 AWG feed the rest would be 0.50 V lower"},
      {{.cure = TAILVOLT_CURE_FEED, .kind = TAILVOLT_ANSWER_IN_SET, .with = "4 AWG feed", .gain_v = 0.5},
       "thicker cable: needed in this set; 4 AWG feed brings 0.50 V"},
      {{.cure = TAILVOLT_CURE_FEED, .kind = TAILVOLT_ANSWER_IN_SET, .with = "4 AWG feed", .gain_v = -0.5, .gain_in_set = true},
       "thicker cable: needed in this set; without 4 AWG feed the rest would be 0.50 V higher"},
      {{.cure = TAILVOLT_CURE_SECOND_BATTERY, .kind = TAILVOLT_ANSWER_IN_SET, .with = "60 Ah", .gain_v = -0.5},
       "a second battery: needed in this set; 60 Ah lowers the voltage by 0.50 V"},
      {{.cure = TAILVOLT_CURE_SECOND_BATTERY, .kind = TAILVOLT_ANSWER_IN_SET, .with = "60 Ah", .in_minutes = true,
        .gain_in_set = true, .gain_v = 0.5, .gain_parked_s = 2100},
       "a second battery: needed in this set; 60 Ah brings 35 min"},
      {{.cure = TAILVOLT_CURE_SECOND_BATTERY, .kind = TAILVOLT_ANSWER_SHORTENS, .with = "35 Ah", .in_minutes = true,
        .gain_parked_s = -1200},
       "a second battery: useless for playing time; with the engine off it feeds the music alone, and 35 Ah lasts 20 min less "
       "than the starter battery did"},
      {{.cure = TAILVOLT_CURE_CAPACITOR, .kind = TAILVOLT_ANSWER_BRINGS_LITTLE, .with = "1 F", .gain_v = -0.2},
       "a capacitor: useless here; 1 F lowers the voltage by 0.20 V"},
      {{.cure = TAILVOLT_CURE_CAPACITOR, .kind = TAILVOLT_ANSWER_BRINGS_LITTLE, .with = "1 F", .gain_v = -0.004},
       "a capacitor: useless here; even 1 F brings 0.00 V"},
      {{.cure = TAILVOLT_CURE_CAPACITOR, .kind = TAILVOLT_ANSWER_BRINGS_LITTLE, .with = "1 F", .gain_v = NAN},
       "a capacitor: useless here; even 1 F brings 0.00 V"},
      {{.cure = TAILVOLT_CURE_CAPACITOR, .kind = TAILVOLT_ANSWER_BRINGS_LITTLE, .with = "1 F", .in_minutes = true},
       "a capacitor: useless for playing time; even 1 F brings 0 min"},
      {{.cure = TAILVOLT_CURE_CAPACITOR, .kind = TAILVOLT_ANSWER_BRINGS_LITTLE, .with = "1 F", .in_minutes = true,
        .gain_parked_s = -55},
       "a capacitor: useless for playing time; 1 F shortens it by 1 min"},
      {{.cure = TAILVOLT_CURE_ALTERNATOR, .kind = TAILVOLT_ANSWER_DOES_ALONE, .with = "150 A", .gain_v = 1},
       "a bigger alternator: would do as well; 150 A brings 1.00 V"},
      {{.cure = TAILVOLT_CURE_SECOND_BATTERY, .kind = TAILVOLT_ANSWER_NOT_ENOUGH, .with = "60 Ah", .gain_v = 1, .then_v = 12.2,
        .loses_charge = true},
       "a second battery: helps but is not enough; 60 Ah brings 1.00 V, then 12.20 V at the lowest, but a battery loses charge"},
      {{.cure = TAILVOLT_CURE_ALTERNATOR, .converter = true, .kind = TAILVOLT_ANSWER_NOT_ENOUGH, .with = "150 A", .gain_v = 1,
        .then_v = 11.5},
       "a bigger converter: helps but is not enough; 150 A brings 1.00 V, then 11.50 V at the lowest"},
      {{.cure = TAILVOLT_CURE_SECOND_BATTERY, .kind = TAILVOLT_ANSWER_NOT_ENOUGH, .with = "60 Ah", .in_minutes = true,
        .gain_parked_s = 2100, .long_enough = true},
       "a second battery: helps but is not enough; 60 Ah brings 35 min: long enough, but another target is missed"},
  };
  for (size_t k = 0; k < sizeof table / sizeof table[0]; k++) {
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_answer_text(&table[k].answer, text, sizeof text);
    is(text, table[k].text);
  }
}

static void test_rules(void **state) {
  (void)state;
  static const struct {
    enum tailvolt_cure cure;
    const char *text;
  } table[] = {
      {TAILVOLT_CURE_CAPACITOR, "1 F for every 1000 W, here 1.1 F"},
      {TAILVOLT_CURE_SECOND_BATTERY, "a second battery above 1500 W, here 1100 W"},
      {TAILVOLT_CURE_FEED, "at most 0.5 V in the feed at full power, here 106 A over 5.5 m: 20 mm2"},
      {TAILVOLT_CURE_GROUND, "ground as thick as the feed and under half a metre long"},
      {TAILVOLT_CURE_ALTERNATOR, "the car's draw and a third of the amplifiers' at full power, here 70 A"},
  };
  for (size_t k = 0; k < sizeof table / sizeof table[0]; k++) {
    struct tailvolt_answer answer = {
        .cure = table[k].cure,
        .rule = {.rated_w = 1100, .full_a = 106, .car_a = 35, .feed_m = 5.5, .feed_m2 = 20.1e-6}};
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_rule_text(&answer, text, sizeof text);
    is(text, table[k].text);
  }
}

static void test_shortages(void **state) {
  (void)state;
  struct tailvolt_result before = {.driving = {.available_a = 69.4, .base_a = 57, .amplifier_a = 24}};
  struct tailvolt_remedy remedy = {.before = &before, .parked_before_s = 5400, .parked_wanted_s = 9000, .worst_wire_v = NAN,
                                   .counterfactual_count = 3,
                                   .counterfactuals = {{.ideal = TAILVOLT_IDEAL_WIRE, .gain_v = 1.5},
                                                       {.ideal = TAILVOLT_IDEAL_BATTERY, .gain_v = 0.9},
                                                       {.ideal = TAILVOLT_IDEAL_ALTERNATOR, .gain_v = NAN}}};
  char text[2 * TAILVOLT_TEXT_MAX];
  tailvolt_shortage_text(&remedy, text, sizeof text);
  is(text, "no shortage of voltage or charge: only safety has to be put right");
  remedy.met_before = true;
  tailvolt_shortage_text(&remedy, text, sizeof text);
  is(text, "every target is met already");
  remedy.shortage = TAILVOLT_SHORTAGE_WIRE;
  tailvolt_shortage_text(&remedy, text, sizeof text);
  is(text, "in the wire: without resistance in feed, return and joints the lowest voltage would be 1.50 V higher "
           "(perfect battery 0.90 V)");
  remedy.worst_wire_kind = TAILVOLT_PART_CABLE;
  memcpy(remedy.worst_wire, "feed", 5);
  remedy.worst_wire_v = 0.72;
  remedy.counterfactual_count = 1;
  tailvolt_shortage_text(&remedy, text, sizeof text);
  is(text, "in the wire: without resistance in feed, return and joints the lowest voltage would be 1.50 V higher, most of it in "
           "cable feed (0.72 V)");
  remedy.shortage = TAILVOLT_SHORTAGE_STEADY;
  remedy.counterfactual_count = 0;
  tailvolt_shortage_text(&remedy, text, sizeof text);
  is(text, "steady shortage: the charge lasts 1.5 h parked, not 2.5 h");
  remedy.stays_open_v = 12.2;
  tailvolt_shortage_text(&remedy, text, sizeof text);
  is(text, "steady shortage: the relay or converter before the battery that loses charge stays open while the alternator is held at "
           "12.2 V");
  remedy.stays_open_v = (double)NAN;
  remedy.charge_short = true;
  tailvolt_shortage_text(&remedy, text, sizeof text);
  is(text, "steady shortage: while the engine runs the alternator can give 69 A, the car and the music take 81 A");
  /* a hybrid has none */
  remedy.before->alternator.by_converter = true;
  tailvolt_shortage_text(&remedy, text, sizeof text);
  is(text, "steady shortage: while the car is on the converter can give 69 A, the car and the music take 81 A");
  remedy.charge_short = false;
  remedy.voltage_short = true;
  tailvolt_shortage_text(&remedy, text, sizeof text);
  assert_non_null(strstr(text, "with an unlimited converter the lowest voltage"));
  remedy.shortage = TAILVOLT_SHORTAGE_FAST;
  tailvolt_shortage_text(&remedy, text, sizeof text);
  assert_non_null(strstr(text, "fast: the converter does not follow the beat"));
  remedy.counterfactual_count = 2;
  remedy.counterfactuals[0] = (struct tailvolt_counterfactual){.ideal = TAILVOLT_IDEAL_ALTERNATOR, .gain_v = 0.3};
  tailvolt_shortage_text(&remedy, text, sizeof text);
  assert_non_null(strstr(text, "(unlimited converter 0.30, perfect battery 0.90 V)"));
}

static void test_next_steps(void **state) {
  (void)state;
  static const struct {
    struct tailvolt_next_step step;
    const char *text;
  } table[] = {
      {{.outcome = TAILVOLT_STEP_NOT_TRIED, .short_phase = -1}, ""},
      {{.outcome = TAILVOLT_STEP_NONE_HELPS, .short_phase = -1},
       "no single part gains 0.05 V; `tailvolt remedy` tries several together"},
      {{.outcome = TAILVOLT_STEP_NONE_CHARGES, .short_phase = -1},
       "no single part brings it more charge; `tailvolt remedy` tries several together"},
      {{.outcome = TAILVOLT_STEP_VOLTAGE, .kind = TAILVOLT_PART_CABLE, .name = "feed", .size = "4 AWG", .into_copper = true,
        .quantile_v = 12.31, .target_v = 12, .missed_frac = 0.01, .short_phase = -1},
       "4 AWG copper feed lifts it to 12.3 V for all but 1 % of the time: enough"},
      {{.outcome = TAILVOLT_STEP_VOLTAGE, .kind = TAILVOLT_PART_JOINT, .name = "stud", .size = "0.3 mohm", .quantile_v = 11.2,
        .target_v = 12, .missed_frac = 0.01, .short_phase = TAILVOLT_IDLE, .short_verdict = TAILVOLT_FAILS},
       "stud made sound (0.3 mohm) lifts it to 11.2 V for all but 1 % of the time: not enough at idle; `tailvolt remedy` finds "
       "what is"},
      {{.outcome = TAILVOLT_STEP_CHARGE, .kind = TAILVOLT_PART_ALTERNATOR, .size = "150 A", .battery_a = -3.2,
        .short_phase = TAILVOLT_IDLE, .short_verdict = TAILVOLT_MARGINAL},
       "a 150 A alternator: the battery then loses 3.2 A, only just enough at idle; `tailvolt remedy` finds what is"},
      {{.outcome = TAILVOLT_STEP_CHARGE, .kind = TAILVOLT_PART_BATTERY, .size = "80 Ah", .battery_a = 3.2, .short_phase = -1,
        .safety = TAILVOLT_FAILS},
       "an 80 Ah battery: the battery then gains 3.2 A, enough, but SAFETY still fails"},
      {{.outcome = TAILVOLT_STEP_FUSE, .kind = TAILVOLT_PART_FUSE, .name = "main", .size = "60 A", .short_phase = -1,
        .verdict = TAILVOLT_MARGINAL},
       "a 60 A fuse main: then it is marginal"},
      {{.outcome = TAILVOLT_STEP_FUSE, .kind = TAILVOLT_PART_FUSE, .name = "main", .size = "80 A", .short_phase = -1,
        .safety = TAILVOLT_FAILS},
       "an 80 A fuse main: see SAFETY for what else is unsafe"},
  };
  for (size_t k = 0; k < sizeof table / sizeof table[0]; k++) {
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_next_step_text(&table[k].step, text, sizeof text);
    is(text, table[k].text);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_answers),
      cmocka_unit_test(test_rules),
      cmocka_unit_test(test_shortages),
      cmocka_unit_test(test_next_steps),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
