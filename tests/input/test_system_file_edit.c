/* Settings written into a file: comments and order kept, and it means the same as file and settings. */
#include "input/system_edit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"

static struct tailvolt_faults faults;
enum { SETTINGS_MAX = 8 };

static char *edit(const char *text, const char *const *sets) {
  struct tailvolt_setting settings[SETTINGS_MAX];
  int count = 0;
  for (; count < SETTINGS_MAX && sets[count] != NULL; count++) settings[count].text = sets[count];
  char *out = NULL;
  assert_int_equal(tv_system_write_with(text, settings, count, &out), TAILVOLT_OK);
  return out;
}

#define EDITED(text, wanted, ...)                                                                            \
  check_edit(text, wanted, (const char *const[SETTINGS_MAX + 1]){__VA_ARGS__, NULL})

static void check_edit(const char *text, const char *wanted, const char *const *sets) {
  char *out = edit(text, sets);
  assert_string_equal(out, wanted);
  free(out);
}

static void changes_in_place(void **state) {
  (void)state;
  EDITED("# top\n[vehicle]\n  ambient   = 25 C   # mild\n\n[engine]\nidle speed = 800 rpm\n",
         "# top\n[vehicle]\n  ambient   = 5 C   # mild\n\n[engine]\nidle speed = 800 rpm\n",
         "vehicle.ambient = 5 C");
  EDITED("[vehicle]\r\nambient: 25 C ; mild\r\n", "[vehicle]\r\nambient: 5 C ; mild\r\n",
         "vehicle.ambient = 5 C");
  EDITED("[amplifier a]\nclass = ab", "[amplifier a]\nclass = d\n", "amplifier a.topology = d");
  EDITED("[amplifier a]\npower at 12.5 V = 780 W # b\n", "[amplifier a]\npower at 12 V = 700 W # b\n",
         "amplifier a.power at 12 V = 700 W");
}

static void adds(void **state) {
  (void)state;
  EDITED("[vehicle]\nname = van\n\n# the engine\n[engine]\n",
         "[vehicle]\nname = van\nambient = 5 C\n\n# the engine\n[engine]\n", "vehicle.ambient = 5 C");
  EDITED("[vehicle]", "[vehicle]\nambient = 5 C\n", "vehicle.ambient = 5 C");
  EDITED("[vehicle]\nname = van",
         "[vehicle]\nname = van\n\n[capacitor stiffener]\ncapacitance = 1 F\nesr = 3 mohm\n",
         "capacitor stiffener.capacitance = 1 F", "capacitor stiffener.esr = 3 mohm");
  EDITED("", "[vehicle]\nambient = 5 C\n", "vehicle.ambient = 5 C");
  EDITED("\xEF\xBB\xBF[vehicle]\r\n", "\xEF\xBB\xBF[vehicle]\r\nambient = 5 C\r\n", "vehicle.ambient = 5 C");
}

static void takes_out_what_is_replaced(void **state) {
  (void)state;
  EDITED("[battery]\nrested voltage = 12.5 V # read\ncapacity = 70 Ah\n",
         "[battery]\n# rested voltage = 12.5 V # read\ncapacity = 70 Ah\nstate of charge = 50 %\n",
         "battery.state of charge = 50 %");
  EDITED("[battery b]\npolarization = 4 mohm, 10 s\npolarization = 2 mohm, 99 s\n",
         "[battery b]\npolarization = 1 mohm, 5 s\n# polarization = 2 mohm, 99 s\n",
         "battery b.polarization = 1 mohm, 5 s");
  EDITED("[cable f]\nmeasured drop = 1 V at 40 A\nsize = 8 AWG\n",
         "[cable f]\n# measured drop = 1 V at 40 A\nsize = 4 AWG\n", "cable.size = 4 AWG");
}

/* A file without points that gains some keeps the standard car by saying so. */
static void keeps_the_standard_car(void **state) {
  (void)state;
  EDITED("[vehicle]\nname = van\n[battery]\ncapacity = 70 Ah\n",
         "[vehicle]\nname = van\nwiring = standard car\n[battery]\ncapacity = 70 Ah\n\n[battery "
         "second]\npositive = second plus\n",
         "battery second.positive = second plus");
  EDITED("[battery]\npositive = post\n",
         "[battery]\npositive = post\n\n[battery second]\npositive = second plus\n",
         "battery second.positive = second plus");
}

static void check_same(const struct tailvolt_system *a, const struct tailvolt_system *b) {
  assert_int_equal(a->standard_car, b->standard_car);
  assert_int_equal(a->assumption_count, b->assumption_count);
  assert_int_equal(a->conductor_count, b->conductor_count);
  assert_int_equal(a->capacitor_count, b->capacitor_count);
  assert_int_equal(a->battery_count, b->battery_count);
  assert_int_equal(a->isolator_count, b->isolator_count);
  for (int k = 0; k < a->conductor_count; k++)
    for (int j = 0; j < b->conductor_count; j++) {
      const struct tailvolt_conductor *c = &a->conductors[k], *d = &b->conductors[j];
      if (strcmp(c->name, d->name) != 0 || c->kind != d->kind) continue;
      assert_true(c->resistance_ohm == d->resistance_ohm);
      assert_string_equal(a->point_names[c->from], b->point_names[d->from]);
      assert_string_equal(a->point_names[c->to], b->point_names[d->to]);
    }
  for (int k = 0; k < a->battery_count; k++) {
    assert_true(a->batteries[k].capacity_ah == b->batteries[k].capacity_ah);
    assert_true(isnan(a->batteries[k].rested_v) == isnan(b->batteries[k].rested_v));
    if (isnan(a->batteries[k].rested_v)) assert_true(a->batteries[k].soc_frac == b->batteries[k].soc_frac);
  }
  assert_true(a->vehicle.ambient_c == b->vehicle.ambient_c);
  assert_true(a->amplifiers[0].rated_w == b->amplifiers[0].rated_w);
  assert_string_equal(a->point_names[a->capacitors[0].positive], b->point_names[b->capacitors[0].positive]);
}

/* Reading the edited text gives the same as reading the old one with the settings. */
static void same_meaning(void **state) {
  (void)state;
  static const char *const files[] = {"ten-line.ini", "all-of-it.ini"};
  static const char *const sets[][SETTINGS_MAX] = {
      {"cable feed.size = 4 AWG", "capacitor stiffener.capacitance = 2 F", "battery.state of charge = 40 %",
       "battery second.capacity = 90 Ah", "battery second.positive = second plus",
       "isolator split.from = battery post", "isolator split.to = second plus", NULL},
      {"cable amplifier feed.size = 4 AWG", "capacitor stiffener.capacitance = 2 F",
       "battery starter.rested voltage = 12.4 V", "battery second.capacity = 90 Ah", "vehicle.ambient = -5 C",
       "amplifier.channels = 4 x 150 W", NULL}};
  for (int k = 0; k < 2; k++) {
    char path[512], text[16384];
    snprintf(path, sizeof path, "%s/examples/reference/%s", TAILVOLT_SOURCE_DIR, files[k]);
    FILE *stream = fopen(path, "rb");
    assert_non_null(stream);
    text[fread(text, 1, sizeof text - 1, stream)] = '\0';
    fclose(stream);
    struct tailvolt_setting settings[SETTINGS_MAX];
    int count = 0;
    for (; sets[k][count] != NULL; count++) settings[count].text = sets[k][count];
    struct tailvolt_system *with = NULL, *edited = NULL;
    if (tailvolt_system_parse(text, "a", settings, count, &with, &faults) != TAILVOLT_OK)
      fail_msg("%s", faults.fault[0].message);
    char *out = edit(text, sets[k]);
    if (tailvolt_system_parse(out, "b", NULL, 0, &edited, &faults) != TAILVOLT_OK)
      fail_msg("%d: %s\n%s", faults.fault[0].line, faults.fault[0].message, out);
    check_same(with, edited);
    free(out);
    tailvolt_system_free(with);
    tailvolt_system_free(edited);
  }
}

static void refuses(void **state) {
  (void)state;
  char *out = NULL;
  struct tailvolt_setting setting = {"vehicle.zzz = 1"};
  assert_int_equal(tv_system_write_with("[vehicle]\n", &setting, 1, &out), TAILVOLT_BAD_INPUT);
  assert_null(out);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(changes_in_place),
                                     cmocka_unit_test(adds),
                                     cmocka_unit_test(takes_out_what_is_replaced),
                                     cmocka_unit_test(keeps_the_standard_car),
                                     cmocka_unit_test(same_meaning),
                                     cmocka_unit_test(refuses)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
