/* The ten questions: their list, what is accepted and what is refused, and that every choice makes a valid system file. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "tailvolt/questions.h"
#include "tailvolt/simulate.h"
#include "tailvolt/system.h"

/* The system in a file's text; fails the test if it is refused. */
static struct tailvolt_system *system_of(const char *text) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  struct tailvolt_system *system = NULL;
  assert_non_null(faults);
  enum tailvolt_status status = tailvolt_system_parse(text, "answers", NULL, 0, &system, faults);
  if (status == TAILVOLT_OK) status = tailvolt_check(system, faults);
  if (status != TAILVOLT_OK) fail_msg("%s\n%s", faults->fault[0].message, text);
  free(faults);
  return system;
}

static char *text_of(const char *const *answers, int count) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  char *text = NULL;
  assert_non_null(faults);
  if (tailvolt_answers_system(answers, count, &text, faults) != TAILVOLT_OK)
    fail_msg("question %d: %s", faults->fault[0].line, faults->fault[0].message);
  free(faults);
  return text;
}

static bool holds(const char *text, const char *piece) {
  return strstr(text, piece) != NULL;
}

static void test_the_list_is_whole(void **state) {
  (void)state;
  assert_null(tailvolt_question(-1));
  assert_null(tailvolt_question(TAILVOLT_QUESTIONS));
  assert_int_equal(TAILVOLT_QUESTIONS, 10);
  for (int k = 0; k < TAILVOLT_QUESTIONS; k++) {
    const struct tailvolt_question *question = tailvolt_question(k);
    char error[TAILVOLT_TEXT_MAX];
    assert_int_equal((int)question->id, k);
    assert_true(question->words[strlen(question->words) - 1] == '?' && question->look[0] != '\0');
    if (tailvolt_answer_check(k, question->example, error) != TAILVOLT_OK) fail_msg("%s: %s", question->example, error);
    for (int p = 0; p < question->part_count; p++) {
      const struct tailvolt_answer_part *part = &question->parts[p];
      assert_true((part->kind == TAILVOLT_FORM_CHOICE) == (part->choice_count > 0));
      assert_true((part->units != NULL) == (part->choice_count == 0));
      const char *taken[] = {part->unknown, part->unknown_hybrid};
      for (int t = 0; t < 2; t++)
        if (taken[t] != NULL && tailvolt_answer_check(k, taken[t], error) != TAILVOLT_OK) fail_msg("%s: %s", taken[t], error);
      for (int c = 0; c < part->choice_count; c++) {
        assert_non_null(part->choices[c].says);
        assert_int_equal(tailvolt_answer_check(k, part->choices[c].word, NULL), TAILVOLT_OK);
      }
    }
  }
}

/* With sanitizers, every eleventh file only. */
#ifdef TAILVOLT_SANITIZED
enum { EVERY = 11 };
#else
enum { EVERY = 1 };
#endif

/* Every choice for every part with every other that it meets in the file, each also left open. */
static void test_every_combination_is_accepted(void **state) {
  (void)state;
  const struct tailvolt_question *charging = tailvolt_question(TAILVOLT_ASK_CHARGING);
  const struct tailvolt_question *battery = tailvolt_question(TAILVOLT_ASK_BATTERY);
  const struct tailvolt_question *ground = tailvolt_question(TAILVOLT_ASK_GROUND);
  static const char *const feeds[] = {"", "not laid yet", "8 AWG", "25 mm2, 3 m, clad", "4 m, not laid yet, copper", "CCA"};
  static const char *const amplifiers[] = {"", "800", "bass 1200 W, 3 x 40 A; tops 4 x 75 W at 4 ohm", "80 A"};
  int files = 0;
  for (int c = -1; c < charging->parts[0].choice_count; c++)
    for (int kind = -1; kind < battery->parts[2].choice_count; kind++)
      for (int place = -1; place < battery->parts[3].choice_count; place++)
        for (int g = -1; g < ground->parts[0].choice_count; g++)
          for (size_t f = 0; f < sizeof feeds / sizeof feeds[0]; f++) {
            char stands[64], bolted[64];
            snprintf(stands, sizeof stands, "%s%s%s", kind < 0 ? "" : battery->parts[2].choices[kind].word,
                     kind < 0 || place < 0 ? "" : ", ", place < 0 ? "" : battery->parts[3].choices[place].word);
            snprintf(bolted, sizeof bolted, "%s%s", g < 0 ? "" : ground->parts[0].choices[g].word, files % 2 == 0 ? ", 0.7 m" : "");
            const char *answers[TAILVOLT_QUESTIONS] = {
                c < 0 ? NULL : charging->parts[0].choices[c].word, amplifiers[files % 4], files % 3 == 0 ? "" : "120", stands,
                feeds[f], g < 0 && files % 2 == 1 ? "" : bolted, files % 5 == 0 ? "LED" : files % 5 == 1 ? "halogen" : "?",
                files % 7 < 3 ? "daily" : "show", files % 3 == 1 ? "90 min" : "0", "nothing"};
            if (files++ % EVERY != 0) continue;
            char *text = text_of(answers, TAILVOLT_QUESTIONS);
            tailvolt_system_free(system_of(text));
            tailvolt_system_text_free(text);
          }
  assert_int_equal(files, 4 * 6 * 5 * 5 * 6);
}

static void test_nothing_known_is_a_small_car(void **state) {
  (void)state;
  char *text = text_of(NULL, 0);
  struct tailvolt_system *system = system_of(text);
  assert_true(system->standard_car && system->amplifier_count == 1);
  assert_float_equal(system->amplifiers[0].rated_w, 500.0, 1e-9);
  assert_float_equal(system->batteries[0].capacity_ah, 60.0, 1e-9);
  assert_true(isnan(system->targets.parked_s));
  assert_true(holds(text, "not known; usual: 45 to 80 Ah"));
  /* what the standard car has anyway stays assumed, so that its range applies */
  assert_false(holds(text, "\nkind = ") || holds(text, "\nplace = ") || holds(text, "\nlength = 1 m"));
  tailvolt_system_free(system);
  tailvolt_system_text_free(text);
}

static void test_answers_reach_the_system(void **state) {
  (void)state;
  const char *answers[] = {"computer-controlled", "bass 1.2 kW, 2 x 40 A; tops 4 x 75 W at 4 ohm, 30 A", "14,5 A",
                           "AGM under the bonnet 640 CCA 70 Ah", "2x4 AWG,5,5 m CCA", "0,8 m seat bolt", "LED",
                           "daily driving", "1.5", "flat battery, lights dim"};
  char *text = text_of(answers, 10);
  struct tailvolt_system *system = system_of(text);
  assert_int_equal((int)system->vehicle.charging, (int)TAILVOLT_CHARGING_COMPUTER);
  assert_int_equal((int)system->vehicle.headlamps, (int)TAILVOLT_LAMP_LED);
  assert_float_equal(system->alternator.set_point_high_v, 14.8, 1e-9);
  assert_float_equal(system->alternator.rated_a, 14.5, 1e-9);
  assert_int_equal(system->amplifier_count, 2);
  assert_string_equal(system->amplifiers[0].name, "bass");
  assert_float_equal(system->amplifiers[0].rated_w, 1200.0, 1e-9);
  assert_float_equal(system->amplifiers[0].fuses_a, 80.0, 1e-9);
  assert_float_equal(system->amplifiers[1].rated_w, 300.0, 1e-9);
  assert_float_equal(system->amplifiers[1].level_offset_db, -10.0, 1e-9);
  const struct tailvolt_battery *battery = &system->batteries[0];
  assert_int_equal((int)battery->kind, (int)TAILVOLT_AGM);
  assert_int_equal((int)battery->place, (int)TAILVOLT_ENGINE_BAY);
  assert_int_equal((int)battery->cold_cranking_standard, (int)TAILVOLT_SAE);
  assert_float_equal(battery->cold_cranking_a, 640.0, 1e-9);
  assert_float_equal(system->targets.parked_s, 5400.0, 1e-9);
  bool feed = false, stud = false, lead = false;
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *one = &system->conductors[k];
    if (strcmp(one->name, "feed") == 0 && one->kind == TAILVOLT_CABLE)
      feed = one->parallel == 2 && one->material == TAILVOLT_CLAD_ALUMINIUM && fabs(one->length_m - 5.5) < 1e-9;
    if (strcmp(one->name, "body stud") == 0) stud = fabs(one->resistance_ohm - 1e-3) < 1e-12;
    if (strcmp(one->name, "ground lead") == 0) lead = fabs(one->length_m - 0.8) < 1e-9;
  }
  assert_true(feed && stud && lead);
  struct tailvolt_aside aside;
  tailvolt_answers_aside(answers, 10, &aside);
  assert_int_equal((int)aside.use, (int)TAILVOLT_USE_DAILY);
  assert_float_equal(aside.level_db, -10.0, 1e-9);
  assert_float_equal(aside.parked_s, 5400.0, 1e-9);
  assert_int_equal(aside.troubles, TAILVOLT_TROUBLE_DIM | TAILVOLT_TROUBLE_FLAT);
  assert_true(holds(aside.look_first, "LIGHTS") && holds(aside.look_first, "CHARGE") && !holds(aside.look_first, "min-hold"));
  tailvolt_system_free(system);
  tailvolt_system_text_free(text);
}

static void test_a_hybrid_has_a_converter(void **state) {
  (void)state;
  const char *answers[] = {"hybrid"};
  char *text = text_of(answers, 1);
  struct tailvolt_system *system = system_of(text);
  assert_true(system->converter.present);
  assert_float_equal(system->converter.rated_a, 100.0, 1e-9);
  assert_float_equal(system->batteries[0].capacity_ah, 45.0, 1e-9);
  assert_int_equal((int)system->batteries[0].kind, (int)TAILVOLT_AGM);
  assert_int_equal((int)system->batteries[0].place, (int)TAILVOLT_BOOT);
  tailvolt_system_free(system);
  tailvolt_system_text_free(text);
}

/* Names the standard car uses for its own parts, and duplicates. */
static void test_names_do_not_collide(void **state) {
  (void)state;
  const char *answers[] = {NULL, "feed 300 W; tops 200 W; Tops 100 W"};
  char *text = text_of(answers, 2);
  struct tailvolt_system *system = system_of(text);
  assert_int_equal(system->amplifier_count, 3);
  assert_string_equal(system->amplifiers[0].name, "feed amplifier");
  assert_string_equal(system->amplifiers[2].name, "Tops 3");
  tailvolt_system_free(system);
  tailvolt_system_text_free(text);
}

/* With only its fuses given, an amplifier draws no more than they carry: 2 x 40 A at 13.5 V, 80 %: 864 W. */
static void test_fuses_alone_bound_the_power(void **state) {
  (void)state;
  const char *answers[] = {NULL, "2 x 40 A"};
  char *text = text_of(answers, 2);
  struct tailvolt_system *system = system_of(text);
  assert_float_equal(system->amplifiers[0].rated_w, 864.0, 1e-9);
  tailvolt_system_free(system);
  tailvolt_system_text_free(text);
}

static void test_wrong_answers(void **state) {
  (void)state;
  static const struct {
    int question;
    const char *answer, *says;
  } wrong[] = {
      {TAILVOLT_ASK_CHARGING, "dynamo", "accepted: plain, computer, hybrid"},
      {TAILVOLT_ASK_CHARGING, "plain hybrid", "given twice"},
      {TAILVOLT_ASK_AMPLIFIERS, "1000 W max", "continuous (RMS) watts"},
      {TAILVOLT_ASK_AMPLIFIERS, "1,200 W", "1200 or 1.200"},
      {TAILVOLT_ASK_AMPLIFIERS, "800, 80", "watts of a further amplifier, or amps of a fuse?"},
      {TAILVOLT_ASK_AMPLIFIERS, "800 W, 2 x 40", "no unit in '2 x 40'"},
      {TAILVOLT_ASK_AMPLIFIERS, "40000 W", "out of range"},
      {TAILVOLT_ASK_AMPLIFIERS, "subwoofer", "not understood"},
      {TAILVOLT_ASK_AMPLIFIERS, "800 W mono 80 A", "comes before the power"},
      {TAILVOLT_ASK_ALTERNATOR, "5 A", "out of range; accepted: 10 A to 500 A"},
      {TAILVOLT_ASK_ALTERNATOR, "110 V", "'V' is not understood"},
      {TAILVOLT_ASK_BATTERY, "640", "Ah (capacity); A EN, A SAE (CCA) or A DIN (cold cranking)"},
      {TAILVOLT_ASK_BATTERY, "70 Ah, 640 A", "by which test?"},
      {TAILVOLT_ASK_BATTERY, "70 Ah, 60 Ah", "given twice"},
      {TAILVOLT_ASK_BATTERY, "70 Ah, AMG", "did you mean 'AGM'?"},
      {TAILVOLT_ASK_FEED, "8, 5.5 m", "AWG or mm2 (size)"},
      {TAILVOLT_ASK_FEED, "8 AWG, 5.5", "m, cm, mm, ft or in (length)"},
      {TAILVOLT_ASK_FEED, "24 AWG", "20 AWG to 4/0 AWG"},
      {TAILVOLT_ASK_GROUND, "body, 1", "m, cm, mm, ft or in"},
      {TAILVOLT_ASK_HEADLAMPS, "bright", "halogen, LED"},
      {TAILVOLT_ASK_USE, "party", "show, daily"},
      {TAILVOLT_ASK_PARKED, "-2 h", "-2 h"},
      {TAILVOLT_ASK_PARKED, "2 kg", "'kg' is not understood"},
      {TAILVOLT_ASK_TODAY, "smoke", "dim, cuts out, flat, nothing"}};
  for (size_t k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
    char error[TAILVOLT_TEXT_MAX];
    if (tailvolt_answer_check(wrong[k].question, wrong[k].answer, error) == TAILVOLT_OK) fail_msg("%s was taken", wrong[k].answer);
    if (!holds(error, wrong[k].says)) fail_msg("%s: %s", wrong[k].answer, error);
  }
}

static void test_words_as_labels_have_them(void **state) {
  (void)state;
  static const struct {
    int question;
    const char *answer;
  } right[] = {{TAILVOLT_ASK_AMPLIFIERS, "4 x 75 W @ 4 ohm"}, {TAILVOLT_ASK_AMPLIFIERS, "bass 4x75W@4ohm, 30A"},
               {TAILVOLT_ASK_AMPLIFIERS, "800 W, 80 A ANL"},  {TAILVOLT_ASK_AMPLIFIERS, "bass 800 W, maxi 60 A"},
               {TAILVOLT_ASK_BATTERY, "AGM stop-start"},      {TAILVOLT_ASK_BATTERY, "EFB, start and stop"},
               {TAILVOLT_ASK_FEED, "8 AWG copper clad, 5 m"}, {TAILVOLT_ASK_FEED, "8 AWG, copper-clad aluminium"}};
  for (size_t k = 0; k < sizeof right / sizeof right[0]; k++) {
    char error[TAILVOLT_TEXT_MAX];
    if (tailvolt_answer_check(right[k].question, right[k].answer, error) != TAILVOLT_OK) fail_msg("%s: %s", right[k].answer, error);
  }
  /* it says nothing of what charges the car */
  assert_int_equal(tailvolt_answer_check(TAILVOLT_ASK_CHARGING, "stop-start", NULL), TAILVOLT_BAD_INPUT);
}

static void test_faults_name_their_question(void **state) {
  (void)state;
  const char *answers[] = {"plain", "800 peak", NULL, "70 Ah", "8"};
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  char *text = NULL;
  assert_non_null(faults);
  assert_int_equal(tailvolt_answers_system(answers, 5, &text, faults), TAILVOLT_BAD_INPUT);
  assert_null(text);
  assert_int_equal(faults->count, 2);
  assert_int_equal(faults->fault[0].line, 2);
  assert_string_equal(faults->fault[0].key, "amplifiers");
  assert_int_equal(faults->fault[1].line, 5);
  assert_string_equal(faults->fault[1].value, "8");
  struct tailvolt_aside aside;
  tailvolt_answers_aside(answers, 5, &aside);
  assert_true(isnan(aside.parked_s) && aside.troubles == 0 && aside.look_first[0] == '\0');
  free(faults);
}

/* Long, empty and odd texts get an answer, whatever it is. */
static void test_odd_texts(void **state) {
  (void)state;
  char longest[6000], error[TAILVOLT_TEXT_MAX];
  static const char *const odd[] = {"", "   ", ";;;", ",", "x", "9 x", "x 9", "1/0", "\x01\x02", "\xff\xfe", "1e999 W", "2 x 2 x 4 AWG",
                                    "don't know", "?", "--", "4 x 75 W at", "'", "[battery]", "# 5", "= 3"};
  for (int k = 0; k < TAILVOLT_QUESTIONS; k++) {
    for (size_t o = 0; o < sizeof odd / sizeof odd[0]; o++) {
      enum tailvolt_status status = tailvolt_answer_check(k, odd[o], error);
      assert_true(status == TAILVOLT_OK || error[0] != '\0');
    }
    for (size_t c = 0; c < sizeof longest - 1; c++) longest[c] = "8 W, "[c % 5];
    longest[sizeof longest - 1] = '\0';
    assert_int_equal(tailvolt_answer_check(k, longest, error), TAILVOLT_BAD_INPUT);
    memset(longest, 'a', sizeof longest - 1);
    assert_int_equal(tailvolt_answer_check(k, longest, error), TAILVOLT_BAD_INPUT);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_the_list_is_whole),
      cmocka_unit_test(test_every_combination_is_accepted),
      cmocka_unit_test(test_nothing_known_is_a_small_car),
      cmocka_unit_test(test_answers_reach_the_system),
      cmocka_unit_test(test_a_hybrid_has_a_converter),
      cmocka_unit_test(test_names_do_not_collide),
      cmocka_unit_test(test_fuses_alone_bound_the_power),
      cmocka_unit_test(test_wrong_answers),
      cmocka_unit_test(test_words_as_labels_have_them),
      cmocka_unit_test(test_faults_name_their_question),
      cmocka_unit_test(test_odd_texts)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
