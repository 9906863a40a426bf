/* The shipped table of base loads against its handbook's totals, and the system-file sections made from it.
 *
 * TAILVOLT_WRITE=1 in the environment rewrites the sections instead of comparing them. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"
#include "tailvolt/system.h"

#define CASES 3
#define LOADS_MAX 32

struct base_load {
  char name[64], duty_class[16];
  double power_w, mean_w, share_frac[CASES];
};

static const char *const case_names[CASES] = {"winter-night", "rain-night", "summer-day"};
static const char *const case_says[CASES] = {"a winter night: lights, blower and rear-window heater on",
                                             "a night in the rain: lights and wipers on, blower at half",
                                             "a summer day: no lights, blower at half, fan half of the time"};

static FILE *profile_file(const char *name, const char *mode) {
  char path[1024];
  snprintf(path, sizeof path, "%s/profiles/%s", TAILVOLT_SOURCE_DIR, name);
  return fopen(path, mode);
}

static int read_table(struct base_load *loads) {
  FILE *file = profile_file("base-loads.csv", "r");
  assert_non_null(file);
  char line[512];
  int count = -1; /* the header */
  while (fgets(line, sizeof line, file) != NULL) {
    if (line[0] == '#') continue;
    struct base_load *load = &loads[count < 0 ? 0 : count];
    int read = sscanf(line, "%63[^,],%15[^,],%lf,%lf,%lf,%lf,%lf", load->name, load->duty_class, &load->power_w,
                      &load->mean_w, &load->share_frac[0], &load->share_frac[1], &load->share_frac[2]);
    assert_int_equal(read, count < 0 ? 2 : 7);
    assert_true(++count < LOADS_MAX);
  }
  fclose(file);
  return count;
}

/* Automotive handbook, table of electrical loads of a petrol car: 1145 W installed, 600 W mean (values from memory).
 * Headings of the classes as in Denton, Automobile Electrical and Electronic Systems (from memory). */
static void the_table_adds_up(void **state) {
  (void)state;
  struct base_load loads[LOADS_MAX];
  int count = read_table(loads);
  double installed_w = 0, mean_w = 0;
  for (int k = 0; k < count; k++) {
    const struct base_load *load = &loads[k];
    installed_w += load->power_w;
    mean_w += load->mean_w;
    assert_true(load->mean_w <= load->power_w);
    assert_true(strcmp(load->duty_class, "continuous") == 0 || strcmp(load->duty_class, "prolonged") == 0 ||
                strcmp(load->duty_class, "short") == 0);
    for (int c = 0; c < CASES; c++) {
      assert_true(load->share_frac[c] >= 0 && load->share_frac[c] <= 1);
      if (strcmp(load->duty_class, "continuous") == 0) assert_near(load->share_frac[c], 1, 0);
    }
  }
  assert_near(installed_w, 1145, 0);
  assert_near(mean_w, 600, 0);
}

static char *sections(const struct base_load *loads, int count, int c) {
  char *text = NULL;
  size_t length;
  FILE *to = open_memstream(&text, &length);
  double sum_w = 0;
  for (int k = 0; k < count; k++) sum_w += loads[k].power_w * loads[k].share_frac[c];
  fprintf(to,
          "# Base loads on %s: %.0f W, %.0f A at 13.5 V.\n"
          "# Add these sections to a system file. In a file that names points give each its `positive`; without one it\n"
          "# sits at the battery post of the standard car. They are on while the engine runs, unless the profile has a\n"
          "# load: column for them. What comes and goes stands with its mean power.\n"
          "# Made from base-loads.csv: a handbook's table, values from memory.\n",
          case_says[c], sum_w, sum_w / 13.5);
  for (int k = 0; k < count; k++) {
    const struct base_load *load = &loads[k];
    double power_w = load->power_w * load->share_frac[c];
    if (!(power_w > 0)) continue;
    fprintf(to, "[load %s]\npower = %.4g W", load->name, power_w);
    if (load->share_frac[c] < 1) fprintf(to, "  # %g W, %g %% of it", load->power_w, 100 * load->share_frac[c]);
    fputs("\n", to);
  }
  fclose(to);
  return text;
}

static void the_sections_are_the_table(void **state) {
  (void)state;
  struct base_load loads[LOADS_MAX];
  int count = read_table(loads);
  for (int c = 0; c < CASES; c++) {
    char name[64], *wanted = sections(loads, count, c), seen[8192];
    snprintf(name, sizeof name, "loads-%s.ini", case_names[c]);
    if (getenv("TAILVOLT_WRITE") != NULL) {
      FILE *file = profile_file(name, "w");
      assert_non_null(file);
      fputs(wanted, file);
      fclose(file);
    }
    FILE *file = profile_file(name, "r");
    assert_non_null(file);
    seen[fread(seen, 1, sizeof seen - 1, file)] = '\0';
    fclose(file);
    assert_string_equal(seen, wanted);
    free(wanted);
  }
}

/* Added to the shortest possible system file they are understood, and draw what the table says. */
static void a_system_takes_them(void **state) {
  (void)state;
  static const char shortest[] = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"
                                 "rated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";
  static struct tailvolt_faults faults;
  struct base_load loads[LOADS_MAX];
  int count = read_table(loads);
  for (int c = 0; c < CASES; c++) {
    char *part = sections(loads, count, c), text[8192];
    snprintf(text, sizeof text, "%s%s", shortest, part);
    struct tailvolt_system *system;
    if (tailvolt_system_parse(text, "loads", NULL, 0, &system, &faults) != TAILVOLT_OK)
      fail_msg("%s: %d: %s", case_names[c], faults.fault[0].line, faults.fault[0].message);
    double wanted_w = 0, seen_w = 0;
    for (int k = 0; k < count; k++) wanted_w += loads[k].power_w * loads[k].share_frac[c];
    for (int k = 0; k < system->load_count; k++) seen_w += system->loads[k].power_w;
    assert_near(seen_w, wanted_w, 0.01);
    tailvolt_system_free(system);
    free(part);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_table_adds_up),
      cmocka_unit_test(the_sections_are_the_table),
      cmocka_unit_test(a_system_takes_them),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
