/* Styles: the files in profiles/, as read and as built in; their mean power, bounds and phrases. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "input/programme_read.h"
#include "input/style.h"
#include "support/assert_near.h"

static struct tailvolt_programme spec_of(const char *style) {
  struct tailvolt_programme spec;
  memset(&spec, 0, sizeof spec);
  spec.crest_db = spec.tempo_per_min = spec.decay_s = spec.bass_hz = (double)NAN;
  spec.phrases_frac = spec.sections_frac = (double)NAN;
  spec.seed = 3;
  snprintf(spec.style, sizeof spec.style, "%s", style);
  return spec;
}

static struct tv_programme *make(struct tailvolt_programme spec) {
  struct tv_programme *programme = NULL;
  char error[TAILVOLT_TEXT_MAX];
  if (tv_programme_create(&spec, "", NULL, &programme, error) != TAILVOLT_OK) fail_msg("%s", error);
  return programme;
}

static void every_style_has_its_mean_and_stays_below_clip(void **state) {
  (void)state;
  int count = 0;
  for (const struct tv_built_in_style *built_in = tv_built_in_styles; built_in->name != NULL; built_in++, count++) {
    struct tv_style style, from_file;
    char error[TAILVOLT_TEXT_MAX], path[TAILVOLT_TEXT_MAX];
    assert_int_equal(tv_style_read(built_in->name, "", &style, error), TAILVOLT_OK);
    snprintf(path, sizeof path, "%s/profiles/style-%s.ini", TAILVOLT_SOURCE_DIR, built_in->name);
    if (tv_style_read(path, "", &from_file, error) != TAILVOLT_OK) fail_msg("%s", error);
    assert_memory_equal(&style, &from_file, sizeof style);
    struct tv_programme *programme = make(spec_of(built_in->name));
    struct tv_programme_cursor cursor;
    memset(&cursor, 0, sizeof cursor);
    double cycle_s = tv_programme_cycle_s(programme), length_s = cycle_s > 0.0 ? cycle_s : 1.0, sum = 0.0, greatest = 0.0;
    long steps = (long)(length_s * 1000.0);
    for (long k = 0; k < steps; k++) {
      double mean = tv_programme_mean(programme, &cursor, length_s * (double)k / (double)steps,
                                      length_s * (double)(k + 1) / (double)steps);
      if (mean > greatest) greatest = mean;
      sum += mean;
    }
    /* required: 0.5 % */
    assert_near_rel(sum / (double)steps, 2.0 * pow(10.0, -style.crest_db / 10.0), 1e-9);
    assert_true(greatest <= 1.0 + 1e-3 * (style.crest_db < 3.02)); /* 3.01 dB is a trifle less than a sine */
    assert_true(greatest > 0.6);
    assert_near(tv_programme_bass_hz(programme), style.bass_hz, 0.0);
    if (style.passage_count > 0) assert_true(length_s > 45.0);
    tv_programme_free(programme);
  }
  assert_int_equal(count, 16);
}

static double mean(const struct tv_programme *programme, double t0_s, double t1_s) {
  struct tv_programme_cursor cursor;
  memset(&cursor, 0, sizeof cursor);
  return tv_programme_mean(programme, &cursor, t0_s, t1_s);
}

/* Passages' mean powers are in the ratio of their levels, form after form, before time zero too: syllables of an
 * announcer, the first sentence at -1 dB, a pause at -30 dB, the second at 0 dB. */
static void passages_are_quiet_and_loud_as_written(void **state) {
  (void)state;
  struct tv_programme *programme = make(spec_of("spoken"));
  double beat_s = 60.0 / 240.0, form = 208.0 * beat_s;
  assert_near(tv_programme_cycle_s(programme), form, 1e-12);
  for (int round = -2; round < 3; round++) {
    double start_s = round * form;
    double first = mean(programme, start_s, start_s + 48.0 * beat_s);
    double pause = mean(programme, start_s + 48.0 * beat_s, start_s + 64.0 * beat_s);
    double loud = mean(programme, start_s + 64.0 * beat_s, start_s + 96.0 * beat_s);
    assert_near_rel(first / loud, pow(10.0, -0.1), 1e-9);
    assert_near_rel(pause / loud, pow(10.0, -3.0), 1e-9);
  }
  tv_programme_free(programme);
}

/* A programme's own phrases replace a style's passages; with none the level is the same throughout. */
static void own_phrases_replace_passages(void **state) {
  (void)state;
  struct tailvolt_programme spec = spec_of("spoken");
  spec.phrases_frac = 0.0;
  struct tv_programme *even = make(spec);
  spec.phrases_frac = 0.5;
  struct tv_programme *swinging = make(spec);
  double whole = 2.0 * pow(10.0, -1.2);
  for (int block = 0; block < 13; block++) assert_near_rel(mean(even, 4.0 * block, 4.0 * block + 4.0), whole, 1e-9);
  assert_near(tv_programme_cycle_s(swinging), 120.0, 1e-9);
  assert_near_rel(mean(swinging, 0.0, 120.0), whole, 1e-9);
  assert_true(fabs(mean(swinging, 0.0, 4.0) / whole - 1.0) > 0.01);
  tv_programme_free(even);
  tv_programme_free(swinging);
}

/* Held at full power, then falling: 40 ms at the top of a beat, then exp(-t / 60 ms). */
static void a_beat_is_held_and_then_decays(void **state) {
  (void)state;
  struct tailvolt_programme spec = spec_of("kick");
  spec.phrases_frac = 0.0;
  struct tv_programme *programme = make(spec);
  double start_s = 64.0 * 60.0 / 124.0;
  double top = mean(programme, start_s, start_s + 0.04);
  assert_near(top, mean(programme, start_s + 0.01, start_s + 0.011), 1e-12);
  double floor_frac = 0.0, one = mean(programme, start_s + 0.04, start_s + 0.0401);
  double later = mean(programme, start_s + 0.1, start_s + 0.1001), last = mean(programme, start_s + 0.16, start_s + 0.1601);
  /* one - f, later - f, last - f fall by e each: f = (one last - later^2) / (one + last - 2 later) */
  floor_frac = (one * last - later * later) / (one + last - 2.0 * later);
  assert_near_rel((later - floor_frac) / (one - floor_frac), exp(-1.0), 1e-9);
  assert_true(floor_frac > 0.0);
  tv_programme_free(programme);
}

/* The programme's own values, where given, override the style's. */
static void own_values_stand_above_the_style(void **state) {
  (void)state;
  struct tailvolt_programme spec = spec_of("kick");
  spec.crest_db = 12.0;
  spec.bass_hz = 60.0;
  struct tv_programme *programme = make(spec);
  double cycle = 240.0 * 60.0 / 124.0;
  assert_near_rel(mean(programme, 0.0, cycle), 2.0 * pow(10.0, -1.2), 1e-9);
  assert_near(tv_programme_bass_hz(programme), 60.0, 0.0);
  tv_programme_free(programme);
}

static void seed_changes_the_order_of_a_style_only(void **state) {
  (void)state;
  struct tailvolt_programme spec = spec_of("spoken");
  struct tv_programme *one = make(spec), *same = make(spec);
  spec.seed = 4;
  struct tv_programme *two = make(spec);
  int differing = 0;
  for (int k = 0; k < 2000; k++) {
    double a = mean(one, 0.01 * k, 0.01 * (k + 1)), b = mean(same, 0.01 * k, 0.01 * (k + 1));
    assert_memory_equal(&a, &b, sizeof a);
    if (fabs(a - mean(two, 0.01 * k, 0.01 * (k + 1))) > 1e-6) differing++;
  }
  assert_true(differing > 500);
  assert_near_rel(mean(one, 0.0, 52.0), mean(two, 0.0, 52.0), 1e-9);
  tv_programme_free(one);
  tv_programme_free(same);
  tv_programme_free(two);
}

static void wrong_styles_are_refused_with_their_line(void **state) {
  (void)state;
  static const struct {
    const char *text, *error;
  } wrong[] = {
      {"[style]\n", ": 'crest factor' is missing"},
      {"crest factor = 9 dB\n", ": 'tempo' is missing"},
      {"crest factor = 9\n", ":1: crest factor = 9: must be a number with its unit (dB)"},
      {"crest factor = 9 dB\ntempo = 0 /min\n", ":2: tempo = 0 /min: must be 1 to 1000 /min"},
      {"crest factor = 9 dB\ncrest factor = 9 dB\n", ":2: 'crest factor' appears a second time"},
      {"tempoo = 60 /min\n", ":1: unknown key 'tempoo' of a style; did you mean 'tempo'?"},
      {"[stile]\n", ":1: '[stile]' is neither [style] nor 'key = value'"},
      {"passage = 60 beats at 0 dB\n", ":1: passage = 60 beats at 0 dB: the beats must be a multiple of 16"},
      {"passage = 64 beats at 1 dB\n", ":1: passage = 64 beats at 1 dB: the level must be -100 to 0 dB"},
      {"passage = 64\n", ":1: passage = 64: must be like '64 beats at -6 dB'"},
      {"crest factor = 3.5 dB\ntempo = 60 /min\npassage = 16 beats at 0 dB\npassage = 16 beats at -20 dB\n",
       "quiet passages leave a mean of 0.505 of the loudest, the crest factor asks for 0.8934"},
      {"phrases = 400 %\n", ":1: phrases = 400 %: must be 0 to 300 %"},
      {"sections = 2\n", ":1: sections = 2: must be a number with its unit (%)"},
      {"crest factor = 9 dB\ntempo = 60 /min\nphrases = 50 %\npassage = 16 beats at 0 dB\n",
       ": 'phrases' and 'passage' both: one of them is the slow level"},
      {"crest factor = 9 dB\ntempo = 60 /min\nfloor = 50 %\nphrases = 0 %\n",
       "the floor alone (0.5 of the loudest) is above the mean (0.251785) that the crest factor asks for"},
      {"crest factor = 30 dB\ntempo = 60 /min\ndecay = 1 s\npassage = 16 beats at 0 dB\n",
       "crest factor too high for this tempo and decay: a mean of 0.002 of rated from beats of mean 0.6321"},
  };
  const char *where = getenv("TMPDIR");
  char path[96];
  snprintf(path, sizeof path, "%s/tailvolt-style-XXXXXX", where != NULL ? where : "/tmp");
  int place = mkstemp(path);
  assert_true(place >= 0);
  close(place);
  for (size_t k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
    struct tailvolt_programme spec = spec_of(path);
    struct tv_programme *programme = NULL;
    char error[TAILVOLT_TEXT_MAX], expected[TAILVOLT_TEXT_MAX];
    FILE *file = fopen(path, "w");
    fputs(wrong[k].text, file);
    fclose(file);
    assert_int_equal(tv_programme_create(&spec, "", NULL, &programme, error), TAILVOLT_BAD_INPUT);
    snprintf(expected, sizeof expected, "%s%s", wrong[k].error[0] == ':' ? path : "", wrong[k].error);
    assert_string_equal(error, expected);
  }
  unlink(path);
  struct tv_style style;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_style_read("kik", "", &style, error), TAILVOLT_BAD_INPUT);
  assert_string_equal(error, "kik: no style of this name; did you mean 'kick'?");
  assert_int_equal(tv_style_read("brass band", "", &style, error), TAILVOLT_BAD_INPUT);
  assert_non_null(strstr(error, "there are ambient, breaks, calm, clipped, dance, electronic, film, folk, held-bass, kick, metal"));
  assert_int_equal(tv_style_read("held bass", "", &style, error), TAILVOLT_OK);
  assert_int_equal(tv_style_read("none.ini", "nowhere/x.ini", &style, error), TAILVOLT_BAD_INPUT);
  assert_string_equal(error, "none.ini: No such file or directory");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(every_style_has_its_mean_and_stays_below_clip),
      cmocka_unit_test(passages_are_quiet_and_loud_as_written),
      cmocka_unit_test(own_phrases_replace_passages),
      cmocka_unit_test(a_beat_is_held_and_then_decays),
      cmocka_unit_test(own_values_stand_above_the_style),
      cmocka_unit_test(seed_changes_the_order_of_a_style_only),
      cmocka_unit_test(wrong_styles_are_refused_with_their_line),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
