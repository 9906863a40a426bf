/* The page's exports, called natively: answers against the library's own, faulty and hostile jobs, random damage. */
#include "support/assert_near.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "page/job.h"
#include "tailvolt/simulate.h"

static const char short_profile[] = "time_s,engine_rpm,programme\n0,800,silence\n1,800,drums\n4,800,drums\n";
static const char ten_lines[] = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"
                                "rated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";

static char *van_text(void) {
  char *text = NULL, error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tailvolt_system_text(TAILVOLT_SOURCE_DIR "/examples/van-800w-8awg/system.ini", &text, error), TAILVOLT_OK);
  return text;
}

/* Takes the text over. */
static json_t *read(char *text) {
  assert_non_null(text);
  json_t *tree = json_loads(text, 0, NULL);
  assert_non_null(tree);
  tv_page_free(text);
  return tree;
}

static bool is_ok(const json_t *answer) { return json_is_true(json_object_get(answer, "ok")); }
static double number(const json_t *answer, const char *key) { return json_real_value(json_object_get(answer, key)); }
static const char *words(const json_t *answer, const char *key) { return json_string_value(json_object_get(answer, key)); }

static bool loads(struct tv_page_job *job, const char *text, const char *settings, const char *profile) {
  json_t *answer = read(tv_page_load(job, text, "system.ini", settings, profile, "profile.csv"));
  bool ok = is_ok(answer);
  json_decref(answer);
  return ok;
}

static void answers_are_the_librarys(void **state) {
  (void)state;
  struct tv_page_job *job = tv_page_create();
  struct tailvolt_system *system = NULL;
  struct tailvolt_profile *profile = NULL;
  struct tailvolt_result *result = NULL;
  struct tailvolt_faults faults = {0};
  struct tailvolt_options options = tailvolt_default_options();
  char *text = van_text();
  const struct tailvolt_setting setting = {"cable amplifier feed.size = 4 AWG"};
  assert_int_equal(tailvolt_system_parse(text, "system.ini", &setting, 1, &system, &faults), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_parse(short_profile, "profile.csv", system, &profile, &faults), TAILVOLT_OK);
  assert_int_equal(tailvolt_simulate(system, profile, &options, &result, NULL), TAILVOLT_OK);
  assert_true(loads(job, text, "cable amplifier feed.size = 4 AWG\n", short_profile));
  json_t *answer = read(tv_page_run(job));
  assert_true(is_ok(answer));
  assert_true(number(answer, "lowest_v") == result->amplifiers[0].min_v);
  json_t *first = json_array_get(json_object_get(answer, "lines"), 0);
  assert_string_equal(words(first, "label"), "");
  assert_non_null(strstr(words(first, "text"), "bass falls to"));
  assert_null(strstr(words(first, "text"), "  "));
  /* a command that a line names is called as on the page, and lines about its options are left out */
  json_t *lines = tv_page_first_lines(
      "FAILS\nSURE    --spread 64 draws\nNEXT    4 AWG: not enough; `tailvolt remedy` finds\n        what is\n");
  assert_int_equal(json_array_size(lines), 2);
  assert_string_equal(words(json_array_get(lines, 1), "text"), "4 AWG: not enough; Remedy finds what is");
  json_decref(lines);
  json_t *parts = json_object_get(json_array_get(json_object_get(answer, "loops"), 0), "parts");
  double sag = 0;
  for (size_t k = 0; k < json_array_size(parts); k++)
    if (strcmp(words(json_array_get(parts, k), "kind"), "amplifier") != 0) sag += number(json_array_get(parts, k), "drop_v");
  assert_near(sag, result->amplifiers[0].rest_v - result->amplifiers[0].min_v, 1e-6);
  json_decref(answer);
  /* what was set stands in the file that is taken away */
  answer = read(tv_page_system_file(job));
  assert_non_null(strstr(words(answer, "text"), "size = 4 AWG"));
  json_decref(answer);
  /* what may still change is not said yet */
  answer = read(tv_page_run(job));
  assert_non_null(strstr(words(json_array_get(json_object_get(answer, "lines"), 4), "text"), "being worked out"));
  json_decref(answer);
  /* the first look, and the preview of a profile that it holds whole, are the run but for how it settled */
  answer = read(tv_page_glance(job, 20.0));
  assert_true(is_ok(answer));
  assert_near(number(answer, "lowest_v"), result->amplifiers[0].min_v, 5e-3);
  json_decref(answer);
  answer = read(tv_page_preview(job, 0, result->amplifiers[0].min_time_s, 20.0, "90"));
  assert_true(is_ok(answer));
  assert_near(number(answer, "lowest_v"), result->amplifiers[0].min_v, 1e-3);
  assert_int_equal(json_integer_value(json_object_get(answer, "rows")), tv_page_trace_rows(job));
  assert_true(tv_page_trace_rows(job) >= 399);
  json_decref(answer);
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  tailvolt_system_text_free(text);
  tv_page_destroy(job);
}

static void every_question_has_an_answer(void **state) {
  (void)state;
  struct tv_page_job *job = tv_page_create();
  char *text = van_text();
  /* before anything is loaded: refused */
  json_t *refused[] = {read(tv_page_run(job)), read(tv_page_advise(job)), read(tv_page_parked(job)), read(tv_page_csv(job)),
                       read(tv_page_preview(job, 0, 0, 20, "")), read(tv_page_glance(job, 20)), read(tv_page_vary(job, "x")),
                       read(tv_page_report(job, "", ""))};
  for (size_t k = 0; k < sizeof refused / sizeof refused[0]; k++) {
    assert_false(is_ok(refused[k]));
    assert_true(strlen(words(refused[k], "error")) > 0);
    json_decref(refused[k]);
  }
  assert_true(loads(job, text, "", short_profile));
  json_t *answered[] = {read(tv_page_run(job)), read(tv_page_csv(job)), read(tv_page_pictures(job)),
                        read(tv_page_play(job, 0.02)), read(tv_page_vary(job, "cable amplifier feed.size = 8 AWG, 4 AWG")),
                        read(tv_page_report(job, "1 May 2030", "note <b>")),
                        read(tv_page_questions()), read(tv_page_answers("\n\n110 A\n"))};
  for (size_t k = 0; k < sizeof answered / sizeof answered[0]; k++) {
    if (!is_ok(answered[k])) fail_msg("answer %zu: %s", k, words(answered[k], "error"));
    json_decref(answered[k]);
  }
  json_t *bad = read(tv_page_vary(job, "cable amplifier feed.length = 1 m .. 900 m step 1 m"));
  assert_false(is_ok(bad));
  json_decref(bad);
  bad = read(tv_page_answers("no such thing\n"));
  assert_int_equal(json_integer_value(json_object_get(json_array_get(json_object_get(bad, "faults"), 0), "line")), 1);
  json_decref(bad);
  tailvolt_system_text_free(text);
  tv_page_destroy(job);
}

static const char two_seconds[] = "time_s,engine_rpm\n0,800\n2,800\n";

/* Whether an answer refuses, in these words; frees it. */
static bool refuses(char *text, const char *why) {
  json_t *answer = read(text);
  const char *error = words(answer, "error");
  bool so = !is_ok(answer) && error != NULL && strstr(error, why) != NULL;
  if (!so) print_message("wanted: %s; said: %s\n", why, error != NULL ? error : "nothing");
  json_decref(answer);
  return so;
}

static void what_cannot_be_answered_is_said(void **state) {
  (void)state;
  struct tv_page_job *job = tv_page_create();
  assert_true(refuses(tv_page_remedy(job), "no system is loaded"));
  assert_true(refuses(tv_page_system_file(job), "no system is loaded"));
  assert_true(refuses(tv_page_pictures(job), "no system is loaded"));
  assert_true(refuses(tv_page_play(job, 0.02), "no system is loaded"));
  assert_true(refuses(tv_page_certainty(job, 1), "nothing was run"));
  assert_true(loads(job, ten_lines, "", two_seconds));
  assert_true(refuses(tv_page_certainty(job, 0), "nothing was run"));
  assert_true(refuses(tv_page_advise(job), "nothing was run"));
  assert_true(refuses(tv_page_csv(job), "nothing was run"));
  for (int profile = -1; profile <= 1; profile += 2) assert_true(refuses(tv_page_preview(job, profile, 1.0, 1.0, ""), "no such moment"));
  assert_true(refuses(tv_page_preview(job, 0, (double)NAN, 1.0, ""), "no such moment"));
  assert_true(refuses(tv_page_preview(job, 0, 1.0, 0.0, ""), "no such moment"));
  assert_true(refuses(tv_page_glance(job, 0.0), "no system is loaded"));
  assert_true(refuses(tv_page_play(job, 0.0), "no such interval"));
  assert_true(refuses(tv_page_vary(job, "cable feed.length"), "="));
  assert_true(refuses(tv_page_vary(job, "cable feed.length = 1 m .. 9 m step 0.1 m"), "at most 64 values"));
  /* a job that is refused leaves none */
  assert_false(loads(job, "[battery]\ncapacity = 70\n", "", two_seconds));
  assert_true(refuses(tv_page_run(job), "no system is loaded"));
  tv_page_destroy(job);
}

/* A value that the car refuses is a point that says so; the others are computed. */
static void a_value_that_is_refused_is_a_point(void **state) {
  (void)state;
  struct tv_page_job *job = tv_page_create();
  assert_true(loads(job, ten_lines, "", two_seconds));
  json_t *answer = read(tv_page_vary(job, "cable feed.length = 2 m, 900 m, 6 m")), *points = json_object_get(answer, "points");
  assert_true(is_ok(answer));
  assert_int_equal(json_array_size(points), 3);
  for (size_t k = 0; k < 3; k++) {
    json_t *point = json_array_get(points, k);
    assert_int_equal(strcmp(words(point, "status"), "not computed") == 0, k == 1);
    assert_int_equal(words(point, "error")[0] != '\0', k == 1);
    assert_int_equal(words(point, "lowest")[0] == '\0', k == 1);
  }
  assert_true(number(json_array_get(points, 0), "min_v") > number(json_array_get(points, 2), "min_v"));
  assert_string_equal(words(json_array_get(points, 1), "value"), "900 m");
  json_decref(answer);
  tv_page_destroy(job);
}

static int stop_from(void *context, double done_frac) { return done_frac >= *(double *)context; }

/* Stopped, a question is refused; a variation answers with the points that it has. */
static void a_stopped_question_says_so(void **state) {
  (void)state;
  struct tv_page_job *job = tv_page_create();
  double from = 0.6;
  tv_page_listen(job, stop_from, &from);
  assert_true(loads(job, ten_lines, "", two_seconds));
  json_t *answer = read(tv_page_vary(job, "cable feed.length = 1 m .. 4 m step 1 m"));
  assert_true(is_ok(answer) && json_is_true(json_object_get(answer, "partial")));
  assert_int_equal(json_array_size(json_object_get(answer, "points")), 3);
  assert_null(json_object_get(answer, "csv"));
  json_decref(answer);
  from = 0.0;
  const char *stopped = tailvolt_status_text(TAILVOLT_STOPPED);
  assert_true(refuses(tv_page_run(job), stopped));
  assert_true(refuses(tv_page_glance(job, 1.0), stopped));
  assert_true(refuses(tv_page_play(job, 0.02), stopped));
  assert_true(refuses(tv_page_report(job, "", ""), stopped));
  assert_true(refuses(tv_page_pictures(job), stopped));
  assert_true(refuses(tv_page_parked(job), stopped));
  /* what was not finished is not there */
  assert_true(refuses(tv_page_csv(job), "nothing was run"));
  tv_page_listen(job, NULL, NULL);
  json_decref(read(tv_page_run(job)));
  tv_page_listen(job, stop_from, &from);
  assert_true(refuses(tv_page_advise(job), stopped));
  tv_page_destroy(job);
}

/* The long questions: figures that go together, and a remedy that holds once its settings are in. */
static void studies_answer(void **state) {
  (void)state;
  struct tv_page_job *job = tv_page_create();
  char settings[2048] = "targets.voltage = 12.6 V\n";
  assert_true(loads(job, ten_lines, settings, two_seconds));
  json_t *run = read(tv_page_run(job)), *sure = read(tv_page_certainty(job, 1)), *whole = read(tv_page_certainty(job, 0));
  assert_string_equal(words(run, "verdict"), "fails");
  assert_true(json_is_null(json_object_get(run, "holds_pct")));
  assert_true(is_ok(sure) && number(sure, "holds_pct") >= 0 && number(sure, "holds_pct") < 50);
  assert_true(number(whole, "holds_pct") >= 0 && number(whole, "holds_pct") < 50);
  bool said = false;
  json_t *lines = json_object_get(whole, "lines");
  for (size_t k = 0; k < json_array_size(lines); k++) said = said || strcmp(words(json_array_get(lines, k), "label"), "SURE") == 0;
  assert_true(said);
  json_t *evening = read(tv_page_parked(job));
  assert_true(number(evening, "parked_s") > 600);
  assert_string_equal(words(json_array_get(json_object_get(evening, "lines"), 0), "label"), "PLAYS");
  assert_non_null(strstr(words(evening, "details"), words(evening, "shown")));
  json_t *remedy = read(tv_page_remedy(job)), *chosen = json_object_get(remedy, "chosen"), *list = json_object_get(chosen, "settings");
  assert_true(json_is_true(json_object_get(remedy, "found")) && json_array_size(list) > 0);
  assert_non_null(strstr(words(chosen, "after"), "HOLDS"));
  for (size_t k = 0; k < json_array_size(list); k++) {
    size_t length = strlen(settings);
    snprintf(settings + length, sizeof settings - length, "%s = %s\n", words(json_array_get(list, k), "key"),
             words(json_array_get(list, k), "value"));
  }
  assert_true(loads(job, ten_lines, settings, two_seconds));
  json_t *after = read(tv_page_run(job));
  assert_string_equal(words(after, "verdict"), "holds");
  json_t *made[] = {run, sure, whole, evening, remedy, after};
  for (size_t k = 0; k < sizeof made / sizeof made[0]; k++) json_decref(made[k]);
  tv_page_destroy(job);
}

/* Without a profile the day is run, idling judged together with its road; the trace is of the amplifier that is watched. */
static void the_standard_day_and_the_one_watched(void **state) {
  (void)state;
  static const char two_amplifiers[] =
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
      "[amplifier tops]\nrated power = 100 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";
  struct tv_page_job *job = tv_page_create();
  assert_true(loads(job, two_amplifiers, "", NULL));
  json_t *answer = read(tv_page_run(job));
  assert_true(is_ok(answer) && json_array_size(json_object_get(answer, "runs")) == 2);
  json_decref(answer);
  answer = read(tv_page_vary(job, "cable feed.size = 8 AWG, 1/0 AWG"));
  json_t *points = json_object_get(answer, "points");
  assert_true(number(json_array_get(points, 0), "min_v") < number(json_array_get(points, 1), "min_v"));
  json_decref(answer);
  for (int watched = 0; watched < 2; watched++) {
    tv_page_watch(job, watched);
    answer = read(tv_page_preview(job, 0, 60.0, 2.0, "80"));
    json_t *first = json_array_get(json_object_get(answer, "loops"), 0);
    assert_int_equal(json_integer_value(json_object_get(first, "amplifier_index")), watched);
    assert_string_equal(words(first, "amplifier"), watched == 0 ? "bass" : "tops");
    assert_int_equal(json_integer_value(json_object_get(answer, "rows")), tv_page_trace_rows(job));
    assert_non_null(tv_page_trace_cells(job));
    json_decref(answer);
  }
  answer = read(tv_page_pictures(job));
  json_t *pictures = json_object_get(answer, "pictures");
  assert_int_equal(json_array_size(pictures), 5);
  assert_string_equal(words(json_array_get(pictures, 2), "name"), "voltage of another amplifier");
  json_decref(answer);
  tv_page_destroy(job);
}

/* A battery given by its resting voltage, isolators, loads and music of every kind stand among the parts with their keys. */
static void parts_have_their_keys(void **state) {
  (void)state;
  static const char text[] =
      "[vehicle]\nwiring = own\ncharging = converter\n[converter]\nrated current = 120 A\npositive = post\nnegative = body\n"
      "[battery first]\npositive = post\nnegative = body\ncapacity = 70 Ah\nrested voltage = 12.6 V\n"
      "[battery second]\npositive = rear\nnegative = body\ncapacity = 60 Ah\nkind = AGM\n"
      "[isolator split]\nfrom = post\nto = rear\nkind = diode\ndrop = 0.6 V\n"
      "[cable feed]\nfrom = rear\nto = plus\nsize = 8 AWG\nlength = 5.5 m\n"
      "[load pump]\npositive = post\nnegative = body\ncurrent = 5 A\nbehaves = constant current\n"
      "[amplifier bass]\npositive = plus\nnegative = body\nrated power = 300 W\ntopology = ab\nprogramme = club\n"
      "[programme club]\ncrest factor = 9 dB\nbass note = 45 Hz\n";
  static const struct {
    const char *section, *key, *value;
  } wanted[] = {{"converter", "rated current", "120 A"},      {"battery first", "rested voltage", "12.6 V"},
                {"battery second", "kind", "AGM"},            {"isolator split", "kind", "diode"},
                {"isolator split", "drop", "0.6 V"},          {"load pump", "current", "5 A"},
                {"amplifier bass", "topology", "ab"},         {"programme club", "crest factor", "9 dB"},
                {"programme club", "bass note", "45 Hz"}};
  struct tv_page_job *job = tv_page_create();
  json_t *answer = read(tv_page_load(job, text, "job.ini", "", NULL, ""));
  if (!is_ok(answer)) fail_msg("%s", json_dumps(json_object_get(answer, "faults"), 0));
  for (size_t w = 0; w < sizeof wanted / sizeof wanted[0]; w++) {
    const char *value = NULL;
    json_t *parts = json_object_get(answer, "parts");
    for (size_t k = 0; k < json_array_size(parts); k++) {
      json_t *fields = json_object_get(json_array_get(parts, k), "fields");
      if (strcmp(words(json_array_get(parts, k), "section"), wanted[w].section) != 0) continue;
      for (size_t f = 0; f < json_array_size(fields); f++)
        if (strcmp(words(json_array_get(fields, f), "key"), wanted[w].key) == 0) value = words(json_array_get(fields, f), "value");
    }
    if (value == NULL || strcmp(value, wanted[w].value) != 0)
      fail_msg("%s.%s = %s, not %s", wanted[w].section, wanted[w].key, value != NULL ? value : "nothing", wanted[w].value);
  }
  json_decref(answer);
  tv_page_destroy(job);
}

/* The page that is taken away says what it was made from, and is the command's for the same job. */
static void report_is_the_commands(void **state) {
  (void)state;
  char folder[] = "/tmp/tailvolt-page-XXXXXX", path[64], line[256], *seen, error[TAILVOLT_TEXT_MAX];
  assert_non_null(mkdtemp(folder));
  snprintf(path, sizeof path, "%s/job.html", folder);
  struct tv_page_job *job = tv_page_create();
  char *text = van_text();
  assert_true(loads(job, text, "cable amplifier feed.size = 4 AWG\n", short_profile));
  json_t *answer = read(tv_page_report(job, "1 May 2030", "Stage \"A\" </script>"));
  assert_true(is_ok(answer));
  FILE *file = fopen(path, "w");
  assert_true(file != NULL && fputs(words(answer, "text"), file) >= 0 && fclose(file) == 0);
  snprintf(line, sizeof line, TAILVOLT_COMMAND " report -q --from %s -o %s.again", path, path);
  assert_int_equal(system(line), 0);
  snprintf(line, sizeof line, "%s.again", path);
  assert_int_equal(tailvolt_system_text(line, &seen, error), TAILVOLT_OK);
  assert_string_equal(seen, words(answer, "text"));
  tailvolt_system_text_free(seen);
  tailvolt_system_text_free(text);
  remove(line);
  remove(path);
  remove(folder);
  json_decref(answer);
  tv_page_destroy(job);
}

/* Of a recording that the browser decoded the report names the file that it was decoded from; nothing where it was not all seen. */
static void report_names_the_original(void **state) {
  (void)state;
  /* a second of 16-bit samples at 8 kHz: a square wave */
  static char song[44 + 16000] = "RIFF\xa4\x3e\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0\x40\x1f\0\0\x80\x3e\0\0\x02\0\x10\0data\x80\x3e\0";
  for (int k = 44; k < (int)sizeof song; k++) song[k] = k / 160 % 2 == 0 ? 0x40 : -0x40;
  /* of "abc", a standard's own example */
  static const char hash[] = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
  char folder[] = "/tmp/tailvolt-page-XXXXXX", path[64], setting[256];
  assert_non_null(mkdtemp(folder));
  snprintf(path, sizeof path, "%s/song.wav", folder);
  FILE *file = fopen(path, "wb");
  assert_true(file != NULL && fwrite(song, 1, sizeof song, file) == sizeof song && fclose(file) == 0);
  snprintf(setting, sizeof setting, "programme drums.recording = %s\n", path);
  struct tv_page_job *job = tv_page_create();
  char *text = van_text();
  for (int turn = 0; turn < 4; turn++) {
    if (turn == 0) assert_true(loads(job, text, setting, short_profile));
    if (turn == 1) assert_int_equal(tv_page_decoded(job, "other.wav", 0, NULL, 0) + tv_page_decoded(job, "other.wav", 2, NULL, 0), 2);
    if (turn >= 2) assert_int_equal(tv_page_decoded(job, "song.wav", 0, NULL, 0) + tv_page_decoded(job, "song.wav", 1, "ab", 2), 2);
    if (turn == 3) assert_int_equal(tv_page_decoded(job, "song.wav", 1, "c", 1) + tv_page_decoded(job, "song.wav", 2, NULL, 0), 2);
    json_t *answer = read(tv_page_report(job, "1 May 2030", ""));
    assert_true(is_ok(answer));
    const char *named = strstr(words(answer, "text"), "/song.wav\",\"bytes\":");
    assert_non_null(named);
    char wanted[128];
    snprintf(wanted, sizeof wanted, "/song.wav\",\"bytes\":3,\"sha256\":\"%s\"}", hash);
    if (turn < 3) snprintf(wanted, sizeof wanted, "/song.wav\",\"bytes\":null,\"sha256\":null}");
    if (strncmp(named, wanted, strlen(wanted)) != 0) fail_msg("%.120s", named);
    json_decref(answer);
  }
  /* a job that is loaded anew knows nothing of it */
  assert_true(loads(job, text, setting, short_profile));
  json_t *answer = read(tv_page_report(job, "1 May 2030", ""));
  assert_non_null(strstr(words(answer, "text"), "/song.wav\",\"bytes\":null"));
  json_decref(answer);
  tailvolt_system_text_free(text);
  remove(path);
  remove(folder);
  tv_page_destroy(job);
}

static void faults_have_their_lines(void **state) {
  (void)state;
  struct tv_page_job *job = tv_page_create();
  json_t *answer = read(tv_page_load(job, "[battery]\ncapacity = 70\n", "job.ini", "", NULL, ""));
  json_t *faults = json_object_get(answer, "faults");
  bool found = false;
  assert_false(is_ok(answer));
  for (size_t k = 0; k < json_array_size(faults); k++) {
    json_t *fault = json_array_get(faults, k);
    found = found || (json_integer_value(json_object_get(fault, "line")) == 2 && strcmp(words(fault, "file"), "job.ini") == 0 &&
                      strcmp(words(fault, "value"), "70") == 0);
  }
  assert_true(found);
  json_decref(answer);
  assert_false(loads(job, ten_lines, "cable feed.size = 8\n", NULL));
  assert_false(loads(job, ten_lines, "", "time_s,rpm\n0,1\n1,1\n"));
  assert_true(loads(job, ten_lines, "", NULL));
  tv_page_destroy(job);
}

static unsigned next_random(unsigned *seed) {
  *seed = *seed * 1103515245u + 12345u;
  return *seed >> 8;
}

/* Overwrites a few bytes with odd ones, and now and then ends the text early; owned by the caller. */
static char *damaged(const char *whole, unsigned *seed) {
  static const char odd[] = "=[]\n-\x01\xff,0e9#;.\"<";
  size_t length = strlen(whole);
  char *text = strdup(whole);
  assert_non_null(text);
  for (unsigned hits = 1 + next_random(seed) % 4; hits > 0; hits--)
    text[next_random(seed) % length] = odd[next_random(seed) % (sizeof odd - 1)];
  if (next_random(seed) % 8 == 0) text[next_random(seed) % length] = '\0';
  return text;
}

/* Likewise profiles, settings and answers to the questions. */
static void damaged_profiles_and_answers_do_no_harm(void **state) {
  (void)state;
  static const char long_profile[] = "time_s,engine_rpm,ambient_c,base_load_a,level_db,programme,note\n0,800,20,30,0,silence,rest\n"
                                     "1,800,,,-3,drums,\n2,2300,25,35,0,drums,\n4,2300,,,,,\n";
  struct tv_page_job *job = tv_page_create();
  char *van = van_text();
  unsigned seed = 11;
  int loaded = 0, refused = 0;
  for (int turn = 0; turn < 1000; turn++) {
    char *profile = turn % 2 == 0 ? strdup(long_profile) : damaged(long_profile, &seed);
    char *setting = damaged("cable amplifier feed.size = 4 AWG\n", &seed);
    char *lines = damaged("110 A\n70 Ah flooded\n800 W\n8 AWG 5.5 m\n", &seed), *charge = damaged("90 80", &seed);
    bool ok = loads(job, van, turn % 3 == 0 ? setting : "", profile);
    loaded += ok;
    refused += !ok;
    if (ok && turn % 20 == 0) json_decref(read(tv_page_preview(job, 0, turn % 40 - 5.0, 1.0, charge)));
    json_decref(read(tv_page_answers(lines)));
    free(profile);
    free(setting);
    free(lines);
    free(charge);
  }
  assert_true(loaded > 50 && refused > 50);
  assert_true(loads(job, van, "", short_profile));
  tailvolt_system_text_free(van);
  tv_page_destroy(job);
}

/* A job however damaged is refused or loads; loaded it previews; the next sound one loads. */
static void damaged_jobs_do_no_harm(void **state) {
  (void)state;
  struct tv_page_job *job = tv_page_create();
  char *whole = van_text();
  unsigned seed = 3;
  for (int turn = 0; turn < 1000; turn++) {
    char *text = damaged(whole, &seed);
    if (loads(job, text, turn % 3 == 0 ? "cable amplifier feed.length = 2 m\n" : "",
        turn % 2 == 0 ? short_profile : NULL) && turn % 20 == 0)
      json_decref(read(turn % 40 == 0 ? tv_page_glance(job, 2.0) : tv_page_preview(job, 0, 3.0, 2.0, "50 x -1")));
    free(text);
  }
  assert_true(loads(job, whole, "", NULL));
  tailvolt_system_text_free(whole);
  tv_page_destroy(job);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(answers_are_the_librarys), cmocka_unit_test(every_question_has_an_answer),
                                     cmocka_unit_test(what_cannot_be_answered_is_said),
                                     cmocka_unit_test(a_value_that_is_refused_is_a_point),
                                     cmocka_unit_test(a_stopped_question_says_so), cmocka_unit_test(studies_answer),
                                     cmocka_unit_test(the_standard_day_and_the_one_watched), cmocka_unit_test(parts_have_their_keys),
                                     cmocka_unit_test(report_is_the_commands), cmocka_unit_test(report_names_the_original),
                                     cmocka_unit_test(faults_have_their_lines),
                                     cmocka_unit_test(damaged_jobs_do_no_harm),
                                     cmocka_unit_test(damaged_profiles_and_answers_do_no_harm)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
