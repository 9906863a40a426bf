/* The budget by use and by hand as text and JSON, from a real run. */
#include "support/assert_near.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/page.h"
#include "support/scenes.h"
#include "tailvolt/report.h"

static struct tailvolt_system *the_system;
static struct tailvolt_result *the_result;

static int make(void **state) {
  (void)state;
  the_system = scene_read("examples/van-put-right/system.ini");
  struct tailvolt_profile *profile = scene_profile(the_system, "time_s,engine_rpm,level_db\n0,800,0\n20,1800,-3\n"
                                                               "40,3000,-3\n60,0,-10\n70,0,-10\n");
  struct tailvolt_options options = tailvolt_default_options();
  the_result = scene_run(the_system, profile, &options);
  tailvolt_profile_free(profile);
  return 0;
}

static int unmake(void **state) {
  (void)state;
  tailvolt_result_free(the_result);
  tailvolt_system_free(the_system);
  return 0;
}

static char *text_of(const struct tailvolt_system *system, const struct tailvolt_result *result) {
  char *text;
  struct tailvolt_report_style style = {.details = true};
  assert_int_equal(tailvolt_report_text(system, &result, 1, NULL, &style, &text), TAILVOLT_OK);
  return text;
}

/* Of a car and a profile by their texts. */
static char *report_of(const char *system_text, const char *profile_text) {
  struct tailvolt_system *system = scene_parse(system_text);
  struct tailvolt_profile *profile = scene_profile(system, profile_text);
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_result *result = scene_run(system, profile, &options);
  char *text = text_of(system, result);
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return text;
}

/* The line of a table under a heading, copied. */
static void line_under(const char *text, const char *heading, const char *name, char line[256]) {
  char start[64];
  snprintf(start, sizeof start, "\n  %s ", name);
  const char *table = strstr(text, heading);
  const char *row = table == NULL ? NULL : strstr(table, start);
  if (row == NULL) fail_msg("nothing for %s under %s", name, heading);
  else snprintf(line, 256, "%.*s", (int)strcspn(row + 1, "\n"), row + 1);
}

static void tables_and_words(void **state) {
  (void)state;
  char *text = text_of(the_system, the_result);
  for (const char *line = text; *line != '\0';) {
    char copy[512];
    size_t length = strcspn(line, "\n");
    assert_true(length < sizeof copy);
    memcpy(copy, line, length);
    copy[length] = '\0';
    if (tv_columns(copy) > 100) fail_msg("%zu columns: %s", tv_columns(copy), copy);
    line += length + (line[length] == '\n');
  }
  static const char *const uses[] = {"idle", "town", "motorway", "parked"};
  for (int u = 0; u < 4; u++) {
    double lasts, available, generated, car, amplifiers, battery, kept, hot, by_hand, simulated, difference;
    char unit[16], name[16], line[256];
    line_under(text, "BUDGET by use", uses[u], line);
    assert_int_equal(sscanf(line, "%15s %lf %15s %lf %lf %lf %lf %lf %lf", name, &lasts, unit, &available, &generated, &car,
                            &amplifiers, &battery, &kept), 9);
    assert_near(available, the_result->uses[u].available_a, 0.0501);
    assert_near(generated, the_result->uses[u].generation_a, 0.0501);
    assert_near(car, the_result->uses[u].base_a, 0.0501);
    assert_near(amplifiers, the_result->uses[u].amplifier_a, 0.0501);
    assert_near(battery, the_result->uses[u].battery_a, 0.0501);
    assert_near(kept, the_result->use_details[u].kept_a, 0.0501);
    line_under(text, "BUDGET by hand", uses[u], line);
    assert_int_equal(sscanf(line, "%15s %lf %lf %lf %lf %lf %lf", name, &hot, &car, &amplifiers, &by_hand, &simulated,
                            &difference), 7);
    assert_near(by_hand, hot - car - amplifiers, 0.16);
    assert_near(simulated, battery, 1e-9);
    assert_near(difference, simulated - by_hand, 0.11);
    double terms[7];
    line_under(text, "  difference ", uses[u], line);
    assert_int_equal(sscanf(line, "%15s %lf %lf %lf %lf %lf %lf %lf", name, &terms[0], &terms[1], &terms[2], &terms[3],
                            &terms[4], &terms[5], &terms[6]), 8);
    assert_near(terms[0] + terms[1] + terms[2] + terms[3] + terms[4] + terms[5], terms[6], 0.31);
    assert_near(terms[6], difference, 1e-9);
  }
  assert_non_null(strstr(text, "all driving"));
  assert_non_null(strstr(text, "not taken up: the regulator"));
  assert_non_null(strstr(text, "heat: by hand"));
  assert_non_null(strstr(text, " N m at its shaft; efficiency "));
  tailvolt_report_free(text);
}

/* The first screen and the table of uses name one time to half charge. */
static void check_one_time(const char *text, const char *use) {
  char said[32], line[256];
  const char *end = strstr(text, " to half charge"), *from = end;
  assert_non_null(end);
  while (*from != ',') from--;
  from += 1 + strspn(from + 1, " \n");
  snprintf(said, sizeof said, " %.*s", (int)(end - from), from);
  line_under(text, "BUDGET by use", use, line);
  if (strcmp(line + strlen(line) - strlen(said), said) != 0) fail_msg("%s to half charge; %s", said, line);
}

/* An open relay: the time is the leisure battery's, which is named. */
static void time_of_the_battery_that_gives(void **state) {
  (void)state;
  char *text = report_of(
      "[battery]\ncapacity = 90 Ah\n[alternator]\nrated current = 120 A\n"
      "[battery leisure]\ncapacity = 110 Ah\nkind = AGM\nplace = cabin\n[isolator]\nkind = relay\nrating = 140 A\n"
      "[cable leisure feed]\nsize = 16 mm2\nlength = 3 m\n"
      "[amplifier radio]\nsupply from = leisure\nrated power = 300 W\n[cable feed]\nsize = 10 mm2\nlength = 2 m\n",
      "time_s,engine_rpm,level_db\n0,0,0\n20,0,0\n");
  const char *named = strstr(text, "battery keeps its charge; battery");
  assert_non_null(named);
  named += strlen("battery keeps its charge; battery") + strspn(named + strlen("battery keeps its charge; battery"), " \n");
  assert_memory_equal(named, "leisure loses ", strlen("leisure loses "));
  check_one_time(text, "parked");
  tailvolt_report_free(text);
}

/* Charging by computer, a relay that never closes at the low end: line 1 has room for what decides. A battery that starts below half
 * has no time left until then. */
static void the_first_line_says_what_decides(void **state) {
  (void)state;
  static const char *const charge[] = {"", "state of charge = 30 %\n[targets]\nvoltage = 11 V\n"};
  static const char *const wanted[] = {"; but idle empties battery leisure to half in ",
                                       "; but idle empties battery leisure, already below half charge"};
  for (int k = 0; k < 2; k++) {
    char car[1024];
    snprintf(car, sizeof car,
             "[vehicle]\ncharging = computer\n[battery]\nkind = EFB\ncapacity = 70 Ah\n"
             "[alternator]\nrated current = 150 A\nset point = 12.4 V .. 15.0 V\n"
             "[battery leisure]\ncapacity = 100 Ah\nkind = lithium-iron\nplace = boot\n%s"
             "[isolator]\nkind = relay\nrating = 140 A\n[cable leisure feed]\nsize = 25 mm2\nlength = 5 m\n"
             "[amplifier bass]\nsupply from = leisure\nrated power = 1000 W\n[cable feed]\nsize = 25 mm2\nlength = 1 m\n",
             charge[k]);
    char *text = report_of(car, "time_s,engine_rpm,level_db\n0,800,0\n20,800,0\n"), *end = strstr(text, "\nWHY");
    assert_non_null(end);
    *end = '\0';
    for (char *at = text; (at = strchr(at, '\n')) != NULL;) {
      size_t spaces = 1 + strspn(at + 1, " "); /* where the line was wrapped */
      *at = ' ';
      memmove(at + 1, at + spaces, strlen(at + spaces) + 1);
    }
    if (strstr(text, wanted[k]) == NULL) fail_msg("%s", text);
    tailvolt_report_free(text);
  }
}

/* A full battery keeps less than what goes into its posts; the first screen and the table name one time all the same. */
static void one_time_to_half_charge(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_read("examples/van-800w-8awg/system.ini");
  for (int k = 0; k < system->battery_count; k++) system->batteries[k].soc_frac = 1;
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm,level_db\n0,800,0\n20,800,0\n");
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_result *result = scene_run(system, profile, &options);
  double posts_a = result->uses[TAILVOLT_USE_IDLE].battery_a, kept_a = result->use_details[TAILVOLT_USE_IDLE].kept_a;
  assert_true(posts_a < 0 && kept_a < 1.02 * posts_a);
  char *text = text_of(system, result);
  check_one_time(text, "idle");
  tailvolt_report_free(text);
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

static void json_keys(void **state) {
  (void)state;
  char *text;
  const struct tailvolt_result *run = the_result;
  assert_int_equal(tailvolt_report_json(the_system, &run, 1, &text), TAILVOLT_OK);
  json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
  assert_non_null(root);
  json_t *uses = json_object_get(json_object_get(root, "budget"), "uses");
  json_t *by_hand = json_object_get(json_object_get(root, "budget"), "hand_budget");
  assert_int_equal(json_object_size(uses), 4);
  assert_int_equal(json_object_size(by_hand), 4);
  json_t *parked = json_object_get(uses, "parked"), *motorway = json_object_get(by_hand, "motorway");
  assert_near(json_real_value(json_object_get(parked, "battery_a")), run->uses[TAILVOLT_USE_PARKED].battery_a, 0);
  assert_near(json_real_value(json_object_get(parked, "kept_ah_per_h")), run->use_details[TAILVOLT_USE_PARKED].kept_a, 0);
  assert_true(json_real_value(json_object_get(parked, "flat_on_end_h")) > 0);
  double sum_a = 0;
  const char *key;
  json_t *value;
  json_object_foreach(json_object_get(motorway, "difference"), key, value) sum_a += json_real_value(value);
  assert_near(sum_a, json_real_value(json_object_get(motorway, "simulated_a")) -
                         json_real_value(json_object_get(motorway, "balance_a")), 1e-9);
  json_t *alternator = json_object_get(root, "alternator");
  assert_near(json_real_value(json_object_get(alternator, "efficiency_pct")), run->alternator.efficiency_pct, 0);
  assert_near(json_real_value(json_object_get(alternator, "mean_torque_nm")), run->alternator.mean_torque_nm, 0);
  json_decref(root);
  tailvolt_report_free(text);
}

/* Memory running out anywhere: no document, nothing leaked, no crash. */
static long allowed;
static void *scarce(size_t size) { return allowed-- > 0 ? malloc(size) : NULL; }

static void json_out_of_memory(void **state) {
  (void)state;
  const struct tailvolt_result *run = the_result;
  bool whole = false;
  json_set_alloc_funcs(scarce, free);
  for (long most = 0; !whole && most < 20000; most += most < 200 ? 1 : 37) {
    char *text = NULL;
    allowed = most;
    enum tailvolt_status status = tailvolt_report_json(the_system, &run, 1, &text);
    whole = status == TAILVOLT_OK;
    if (!whole) assert_int_equal(status, TAILVOLT_NO_MEMORY);
    tailvolt_report_free(text);
  }
  json_set_alloc_funcs(malloc, free);
  assert_true(whole);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(tables_and_words),
      cmocka_unit_test(one_time_to_half_charge), cmocka_unit_test(time_of_the_battery_that_gives),
      cmocka_unit_test(the_first_line_says_what_decides),
      cmocka_unit_test(json_keys),
      cmocka_unit_test(json_out_of_memory),
  };
  return cmocka_run_group_tests_name("budget report", tests, make, unmake);
}
