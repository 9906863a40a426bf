/* Files as people write them: short, in any order, with any names, on a host with any locale; the same
 * run. */
#include <dirent.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "support/assert_near.h"
#include "tailvolt/simulate.h"

static struct tailvolt_faults faults;

enum { LONGEST = 65536, SECTIONS = 64, SETTINGS = 400 };

static void read_text(const char *path, char *text) {
  FILE *file = fopen(path, "rb");
  if (file == NULL) fail_msg("%s cannot be opened", path);
  size_t length = fread(text, 1, LONGEST - 1, file);
  text[length] = '\0';
  fclose(file);
}

static struct tailvolt_system *parse(const char *text, const char *name, const struct tailvolt_setting *settings,
                                     int count) {
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_parse(text, name, settings, count, &system, &faults) != TAILVOLT_OK)
    fail_msg("%s:%d: %s: %s", name, faults.fault[0].line, faults.fault[0].key, faults.fault[0].message);
  return system;
}

/* Two seconds of music at idle, after the settling. */
static struct tailvolt_result *run(const struct tailvolt_system *system) {
  struct tailvolt_profile *profile = NULL;
  struct tailvolt_result *result = NULL;
  char error[TAILVOLT_TEXT_MAX] = "", text[200];
  const char *music = system->programmes[0].name;
  snprintf(text, sizeof text, "time_s,engine_rpm,programme\n0,800,%s\n2,800,%s\n", music, music);
  assert_int_equal(tailvolt_profile_parse(text, "idle", system, &profile, &faults), TAILVOLT_OK);
  struct tailvolt_options options = tailvolt_default_options();
  options.settle_s = 3.0;
  enum tailvolt_status status = tailvolt_simulate(system, profile, &options, &result, error);
  if (status != TAILVOLT_OK) fail_msg("%s: %s", system->file, error);
  tailvolt_profile_free(profile);
  return result;
}

/* Every system file of the examples. */
static void each_example(void (*check)(const char *path, const char *text)) {
  static char text[LONGEST];
  char folder_path[400], path[800];
  DIR *examples = opendir(TAILVOLT_SOURCE_DIR "/examples");
  assert_non_null(examples);
  int count = 0;
  for (const struct dirent *folder; (folder = readdir(examples)) != NULL;) {
    snprintf(folder_path, sizeof folder_path, "%s/examples/%.100s", TAILVOLT_SOURCE_DIR, folder->d_name);
    DIR *inside = folder->d_name[0] == '.' ? NULL : opendir(folder_path);
    for (const struct dirent *file; inside != NULL && (file = readdir(inside)) != NULL;) {
      size_t length = strlen(file->d_name);
      if (length < 5 || strcmp(file->d_name + length - 4, ".ini") != 0) continue;
      snprintf(path, sizeof path, "%s/%.200s", folder_path, file->d_name);
      read_text(path, text);
      check(path, text);
      count++;
    }
    if (inside != NULL) closedir(inside);
  }
  closedir(examples);
  assert_true(count >= 15);
}

/* Everything assumed, given back in full digits: nothing is assumed any more, and not a bit of the run
 * changes. */
static void feed_back(const char *path, const char *text) {
  static char texts[SETTINGS][200];
  static struct tailvolt_setting settings[SETTINGS];
  struct tailvolt_system *system = parse(text, path, NULL, 0), *told;
  assert_true(system->assumption_count <= SETTINGS);
  for (int k = 0; k < system->assumption_count; k++) {
    snprintf(texts[k], sizeof texts[k], "%s = %s", system->assumptions[k].key, system->assumptions[k].value);
    settings[k].text = texts[k];
  }
  told = parse(text, path, settings, system->assumption_count);
  if (told->assumption_count != 0) fail_msg("%s: %s is assumed again", path, told->assumptions[0].key);
  struct tailvolt_result *a = run(system), *b = run(told);
  if (a->state_hash != b->state_hash) fail_msg("%s: another state", path);
  tailvolt_result_free(a);
  tailvolt_result_free(b);
  tailvolt_system_free(system);
  tailvolt_system_free(told);
}

static void assumed_values_are_the_values_used(void **state) {
  (void)state;
  each_example(feed_back);
  static const char *const kinds[] = {"flooded", "EFB", "AGM", "gel", "lithium-iron"};
  static const char *const sizes[] = {"12 Ah", "70 Ah", "105 Ah"};
  for (size_t k = 0; k < 5; k++)
    for (size_t s = 0; s < 3; s++) {
      char text[400];
      snprintf(text, sizeof text,
               "[battery]\nkind = %s\ncapacity = %s\n[alternator]\nrated current = 93 A\n[amplifier bass]\n"
               "rated power = 333 W\n[cable feed]\nlength = 3.3 m\n",
               kinds[k], sizes[s]);
      feed_back(kinds[k], text);
    }
}

/* ---- order and names ---- */

struct pieces {
  char *start[SECTIONS];
  size_t length[SECTIONS];
  int count;
};

static struct pieces cut(char *text) {
  struct pieces p = {.count = 0};
  for (char *at = text; at != NULL && *at != '\0';) {
    char *next = strstr(at + 1, "\n[");
    if (next != NULL) next++;
    if (*at == '[' && p.count < SECTIONS) {
      p.start[p.count] = at;
      p.length[p.count++] = next != NULL ? (size_t)(next - at) : strlen(at);
    }
    at = next;
  }
  return p;
}

static void same_voltages(const char *path, const char *what, const struct tailvolt_result *a,
                          const struct tailvolt_result *b, const int *amplifier) {
  assert_int_equal(a->amplifier_count, b->amplifier_count);
  for (int k = 0; k < a->amplifier_count; k++) {
    const struct tailvolt_amplifier_result *x = &a->amplifiers[k], *y = &b->amplifiers[amplifier[k]];
    if (fabs(x->min_v - y->min_v) > 1e-9 || fabs(x->rest_v - y->rest_v) > 1e-9 || fabs(x->mean_v - y->mean_v) > 1e-9)
      fail_msg("%s, %s: %s has %.12f, %.12f, %.12f V and %.12f, %.12f, %.12f V", path, what, x->name, x->min_v, x->rest_v,
               x->mean_v, y->min_v, y->rest_v, y->mean_v);
  }
}

static void in_any_order(const char *path, const char *text) {
  static char copy[LONGEST], turned[LONGEST];
  snprintf(copy, sizeof copy, "%s\n", text);
  struct pieces p = cut(copy);
  struct tailvolt_system *system = parse(text, path, NULL, 0);
  struct tailvolt_result *first = run(system);
  for (int turn = 1; turn <= 2; turn++) {
    size_t used = 0;
    for (int k = 0; k < p.count; k++) {
      /* backwards, then every third */
      int at = turn == 1 ? p.count - 1 - k : (k * (p.count % 7 == 0 ? 5 : 7)) % p.count;
      memcpy(turned + used, p.start[at], p.length[at]);
      used += p.length[at];
      turned[used++] = '\n';
    }
    turned[used] = '\0';
    struct tailvolt_system *other = parse(turned, path, NULL, 0);
    struct tailvolt_result *result = run(other);
    int amplifier[16] = {0};
    for (int k = 0; k < system->amplifier_count; k++)
      for (int j = 0; j < other->amplifier_count; j++)
        if (strcmp(system->amplifiers[k].name, other->amplifiers[j].name) == 0) amplifier[k] = j;
    assert_string_equal(system->batteries[system->engine.starter_battery].name,
                        other->batteries[other->engine.starter_battery].name);
    same_voltages(path, "sections in another order", first, result, amplifier);
    assert_int_equal(first->status, result->status);
    tailvolt_result_free(result);
    tailvolt_system_free(other);
  }
  tailvolt_result_free(first);
  tailvolt_system_free(system);
}

static void order_does_not_matter(void **state) {
  (void)state;
  each_example(in_any_order);
}

/* Replaces a word everywhere. */
static void rename_all(char *text, const char *from, const char *to) {
  static char out[LONGEST];
  size_t used = 0;
  for (const char *at = text; *at != '\0';) {
    if (strncmp(at, from, strlen(from)) == 0) {
      used += (size_t)snprintf(out + used, sizeof out - used, "%s", to);
      at += strlen(from);
    } else {
      out[used++] = *at++;
    }
  }
  out[used] = '\0';
  memcpy(text, out, used + 1);
}

static void names_do_not_matter(void **state) {
  (void)state;
  static char text[LONGEST], renamed[LONGEST];
  /* a file with its own wiring: every name is free */
  read_text(TAILVOLT_SOURCE_DIR "/examples/reference/all-of-it.ini", text);
  memcpy(renamed, text, strlen(text) + 1);
  static const char *const words[][2] = {
      {"[battery starter]", "[battery a]"},     {"[battery second]", "[battery b]"},  {"[cable charge lead]", "[cable c]"},
      {"[cable negative lead]", "[cable d]"},   {"[cable amplifier feed]", "[cable e]"},
      {"[cable amplifier ground]", "[cable f]"}, {"[strap engine]", "[strap g]"},     {"[fuse main]", "[fuse h]"},
      {"[joint body stud]", "[joint i]"},       {"[joint body shell]", "[joint j]"},  {"[isolator split charge]", "[isolator k]"},
      {"battery post", "p1"},                   {"alternator post", "p2"},            {"body shell rear", "p3"},
      {"amplifier plus", "p4"},                 {"amplifier minus", "p5"},            {"fused feed", "p6"}};
  for (size_t k = 0; k < sizeof words / sizeof words[0]; k++) rename_all(renamed, words[k][0], words[k][1]);
  assert_string_not_equal(text, renamed);
  struct tailvolt_system *a = parse(text, "all-of-it.ini", NULL, 0), *b = parse(renamed, "renamed.ini", NULL, 0);
  struct tailvolt_result *x = run(a), *y = run(b);
  const int same[] = {0, 1, 2, 3};
  same_voltages("all-of-it.ini", "other names", x, y, same);
  assert_int_equal(x->status, y->status);
  tailvolt_result_free(x);
  tailvolt_result_free(y);
  tailvolt_system_free(a);
  tailvolt_system_free(b);
}

/* ---- short files ---- */

static void short_is_short(const char *path, const char *text) {
  static const char *const folders[] = {"/second-battery/", "/fused-block/",     "/one-feed/", "/boot-battery/",
                                        "/smart-hatchback/", "/hybrid/", "/van-second-lithium/"};
  for (size_t k = 0; k < sizeof folders / sizeof folders[0]; k++) {
    if (strstr(path, folders[k]) == NULL) continue;
    int lines = 0;
    for (const char *at = text; *at != '\0'; at++) lines += *at == '\n';
    if (lines > 20) fail_msg("%s has %d lines", path, lines);
    struct tailvolt_system *system = parse(text, path, NULL, 0);
    assert_true(system->standard_car);
    tailvolt_system_free(system);
  }
}

static void twenty_lines_will_do(void **state) {
  (void)state;
  each_example(short_is_short);
}

/* ---- locale ---- */

/* Sets a locale with decimal commas for the host program; visibly skipped where there is none. */
static bool use_commas(void) {
  static const char *const names[] = {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "nl_NL.UTF-8", "sv_SE.UTF-8"};
  for (size_t k = 0; k < sizeof names / sizeof names[0]; k++)
    if (setlocale(LC_ALL, names[k]) != NULL && strcmp(localeconv()->decimal_point, ",") == 0) return true;
  const char *folder = TAILVOLT_BUILD_DIR "/locale";
  mkdir(folder, 0777);
  if (system("localedef -i de_DE -f UTF-8 " TAILVOLT_BUILD_DIR "/locale/de_DE.UTF-8 >/dev/null 2>&1") != 0 ||
      setenv("LOCPATH", folder, 1) != 0)
    return false;
  return setlocale(LC_ALL, "de_DE.UTF-8") != NULL && strcmp(localeconv()->decimal_point, ",") == 0;
}

static void same_in_a_comma_locale(void **state) {
  (void)state;
  static const char text[] = "[battery]\ncapacity = 66 Ah\n[alternator]\nrated current = 93.5 A\n[amplifier bass]\n"
                             "rated power = 333 W\n[cable feed]\nlength = 3.3 m\n";
  struct tailvolt_system *a = parse(text, "job.ini", NULL, 0);
  struct tailvolt_result *x = run(a);
  if (!use_commas()) {
    tailvolt_result_free(x);
    tailvolt_system_free(a);
    skip();
  }
  struct tailvolt_system *b = parse(text, "job.ini", NULL, 0);
  struct tailvolt_result *y = run(b);
  assert_int_equal(tailvolt_system_set(b, "cable feed.length", "3.30 m"), TAILVOLT_OK);
  feed_back("comma", text);
  setlocale(LC_ALL, "C");
  assert_true(x->state_hash == y->state_hash);
  assert_int_equal(a->assumption_count, b->assumption_count);
  for (int k = 0; k < a->assumption_count; k++) {
    assert_string_equal(a->assumptions[k].value, b->assumptions[k].value);
    assert_string_equal(a->assumptions[k].shown, b->assumptions[k].shown);
  }
  tailvolt_result_free(x);
  tailvolt_result_free(y);
  tailvolt_system_free(a);
  tailvolt_system_free(b);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(twenty_lines_will_do), cmocka_unit_test(assumed_values_are_the_values_used),
      cmocka_unit_test(order_does_not_matter), cmocka_unit_test(names_do_not_matter),
      cmocka_unit_test(same_in_a_comma_locale)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
