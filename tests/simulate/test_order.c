/* The order of a file's sections is nobody's business: the same car in each rotation of its sections gives the same answer. */
#include "support/assert_near.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "support/scenes.h"

enum { SECTIONS = 24, ROOM = 4096 };

#define GROUNDS                                                                                                          \
  "[engine]\nstarts from = starter\n"                                                                                    \
  "[cable charge lead]\nfrom = alternator post\nto = battery post\nsize = 6 AWG\nlength = 0.949 m\n"                     \
  "[strap engine]\nfrom = engine block\nto = body\nsize = 25 mm2\nlength = 0.707 m\n"                                    \
  "[cable negative lead]\nfrom = body\nto = ground\nsize = 8 AWG\nlength = 0.977 m\n"                                    \
  "[cable ground 0]\nfrom = minus 0\nto = stud\nsize = 10 AWG\nlength = 0.918 m\n"                                       \
  "[cable main feed]\nfrom = fused feed\nto = plus 0\nsize = 4 AWG\nlength = 5.71 m\n"                                   \
  "[joint stud]\nfrom = stud\nto = body\nresistance = 1.48 mohm\n"

/* The text with its sections beginning from number `first` on. */
static int rotate(const char *text, int first, char *to) {
  const char *begin[SECTIONS + 1];
  int count = 0;
  for (const char *at = text; at != NULL; at = strstr(at + 1, "\n[")) {
    assert_true(count < SECTIONS);
    begin[count++] = at == text ? at : at + 1;
  }
  begin[count] = text + strlen(text);
  to[0] = '\0';
  for (int k = 0; k < count; k++) {
    int s = (k + first) % count;
    strncat(to, begin[s], (size_t)(begin[s + 1] - begin[s]));
  }
  return count;
}

/* How far rotations move the lowest and the mean voltages of the amplifiers. */
static double moved_v(const char *text, const char *rows) {
  char rotated[ROOM];
  double least_v[2] = {0}, mean_v[2] = {0}, most_v = 0;
  assert_true(strlen(text) < ROOM);
  for (int first = 0, count = 1; first < count; first++) {
    count = rotate(text, first, rotated);
    struct tailvolt_system *system = scene_parse(rotated);
    struct tailvolt_profile *profile = scene_profile(system, rows);
    struct tailvolt_options options = tailvolt_default_options();
    options.settle_s = 1.5;
    struct tailvolt_result *r = scene_run(system, profile, &options);
    for (int k = 0; k < r->amplifier_count; k++) {
      int place = strcmp(r->amplifiers[k].name, "tops") == 0;
      if (first == 0) least_v[place] = r->amplifiers[k].min_v, mean_v[place] = r->amplifiers[k].mean_v;
      most_v = fmax(most_v, fabs(r->amplifiers[k].min_v - least_v[place]));
      most_v = fmax(most_v, fabs(r->amplifiers[k].mean_v - mean_v[place]));
    }
    tailvolt_result_free(r);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
  return most_v;
}

static const struct {
  const char *what, *system, *rows;
} SCENES[] = {
    /* An alternator alone with its loads, because the frozen pack takes nothing: what the pack lets through decides how well the
     * network knows its voltages. */
    {"beside a frozen pack",
     "[vehicle]\nbase load = 39.15 A\n" GROUNDS
     "[battery starter]\npositive = battery post\nkind = lithium-iron\ncapacity = 56.26 Ah\nstate of charge = 88.51 %\n"
     "health = 77.87 %\ncranking health = 79.41 %\n"
     "[alternator]\npositive = alternator post\nnegative = engine block\nset point = 14.35 V\nrated current = 62.58 A\n"
     "pulley ratio = 2.33\ndroop = 1.26 mohm\n"
     "[fuse main]\nfrom = battery post\nto = fused feed\nrating = 60 A\n"
     "[amplifier bass]\npositive = plus 0\nnegative = minus 0\nrated power = 57.8 W\ntopology = d\nidle current = 2.46 A\n"
     "[load lights]\npositive = battery post\npower = 167.9 W\nbehaves = resistor\n"
     "[load pump]\npositive = battery post\npower = 22.04 W\nbehaves = constant power\n",
     "time_s,engine_rpm,programme,ambient_c,supply_a:bass\n18.8146,1301.4,music,6.3,33.4\n21.9691,1000.3,music,-6.75,10.4\n"
     "25.0119,1754.2,music,9.36,31.7\n"},
    /* An idle battery behind an open converter carries no current, or what rounding makes of none; then the converter charges it. */
    {"an idle battery",
     "[vehicle]\ncharging = computer\n" GROUNDS
     "[battery starter]\npositive = battery post\ncapacity = 70.06 Ah\nstate of charge = 59.96 %\n"
     "[alternator]\npositive = alternator post\nnegative = engine block\nset point = 12.87 V .. 13.9 V\n"
     "rated current = 80.03 A\n"
     "sense = battery post\n"
     "[fuse main]\nfrom = battery post\nto = far\nrating = 100 A\n"
     "[amplifier bass]\npositive = plus 0\nnegative = minus 0\nrated power = 246.7 W\ntopology = ab\nsupply = unregulated\n"
     "internal resistance = 15.7 mohm\n"
     "[battery second]\npositive = fused feed\nnegative = stud\ncapacity = 39.26 Ah\nstate of charge = 30.39 %\n"
     "health = 80.58 %\n"
     "[isolator split]\nfrom = far\nto = fused feed\nkind = converter\noutput = 46.2 A at 14.49 V\n",
     "time_s,engine_rpm,ambient_c,base_load_a,supply_a:bass\n17.2139,1603.9,6.58,0,11.7\n19.8621,0,-16.2,9.75,42.7\n"
     "20.5,0,-2.28,0,5.81\n"},
    /* A converter at its limit in the step before, then silence and a pack that refuses charge: nothing takes the limit's current. */
    {"a converter let go",
     "[vehicle]\nambient = 2.376 C\n" GROUNDS
     "[battery starter]\npositive = battery post\nkind = gel\ncapacity = 83.98 Ah\nstate of charge = 65.62 %\n"
     "health = 50.09 %\n"
     "[alternator]\npositive = alternator post\nnegative = engine block\nset point = 13.667 V\nrated current = 65.86 A\n"
     "pulley ratio = 2.06\n"
     "[fuse main]\nfrom = battery post\nto = far\nrating = 100 A\n"
     "[amplifier bass]\npositive = plus 0\nnegative = minus 0\nrated power = 288.2 W\ntopology = ab\n"
     "idle current = 2.78 A\n"
     "[capacitor stiffener]\npositive = plus 0\nnegative = minus 0\ncapacitance = 17.4 F\nesr = 0.794 mohm\n"
     "[amplifier tops]\npositive = plus 1\nnegative = minus 1\nrated power = 563.5 W\ntopology = ab\nsupply = unregulated\n"
     "[cable lead 1]\nfrom = fused feed\nto = plus 1\nsize = 2 x 8 AWG\nlength = 5.7 m\n"
     "[cable ground 1]\nfrom = minus 1\nto = stud\nsize = 2 AWG\nlength = 1.31 m\n"
     "[capacitor can]\npositive = plus 1\nnegative = minus 1\ncapacitance = 1.61 F\nesr = 3.5 mohm\n"
     "[battery second]\npositive = fused feed\nnegative = stud\nkind = lithium-iron\ncapacity = 59.72 Ah\n"
     "state of charge = 95.34 %\nhealth = 63.25 %\n"
     "[isolator split]\nfrom = far\nto = fused feed\nkind = converter\noutput = 15 A at 14.21 V\n"
     "[load lights]\npositive = battery post\npower = 210.7 W\nbehaves = resistor\n",
     "time_s,engine_rpm,programme,ambient_c\n-2.8058,2595.1,music,-13\n-0.8454,1176.8,silence,-9.18\n"
     "-0.2295,0,music,-6.61\n"},
    /* A cold pack that refuses charge, and a converter at its limit that takes from it in every other step: in between nothing
     * flows, and the sign of that shuts no pack. */
    {"a pack that gives nothing",
     "[vehicle]\n"
     "[programme club]\nbass note = 0 Hz\n"
     "[battery starter]\npositive = battery post\nkind = lithium-iron\ncapacity = 44.38 Ah\n"
     "cold cranking = 463.4 A EN\nstate of charge = 34.03 %\n"
     "[alternator]\npositive = alternator post\nrated current = 154.2 A\n"
     "[cable charge lead]\nfrom = alternator post\nto = battery post\nsize = 6 AWG\nlength = 0.598 m\n"
     "[strap engine]\nfrom = engine block\nto = body\nsize = 25 mm2\nlength = 0.708 m\n"
     "[cable negative lead]\nfrom = body\nto = ground\nsize = 10 AWG\nlength = 0.481 m\n"
     "[fuse main]\nfrom = battery post\nto = far\nrating = 100 A\n"
     "[cable main feed]\nfrom = fused feed\nto = plus 0\nsize = 10 AWG\nlength = 3.71 m\n"
     "[amplifier bass]\npositive = plus 0\nnegative = minus 0\nrated power = 124.3 W\nidle current = 1.06 A\n"
     "[cable ground 0]\nfrom = minus 0\nto = stud\nsize = 2 x 8 AWG\nlength = 1.04 m\n"
     "[joint stud]\nfrom = stud\nto = body\nmeasured drop = 27.5 mV at 15.8 A\n"
     "[battery second]\npositive = fused feed\nnegative = stud\ncapacity = 35.97 Ah\nstate of charge = 34.31 %\n"
     "polarization = 3.277 mohm, 0.6969 s\n"
     "[isolator split]\nfrom = far\nto = fused feed\nkind = converter\noutput = 34.5 A at 13.96 V\n"
     "closes above = 12.8001 V\nopens below = 12.8 V\ndelay = 0 s\nopening delay = 0 s\n",
     "time_s,engine_rpm,programme,level_db,ambient_c,base_load_a\n15.0269,1682.5,silence,-8.09,11.7,0\n"
     "17.9606,0,club,-10.5,-17.4,0\n20.7439,1674.2,club,-2.4,10.5,2.53\n"},
};

static void whatever_the_order(void **state) {
  (void)state;
  for (size_t k = 0; k < sizeof SCENES / sizeof SCENES[0]; k++) {
    double v = moved_v(SCENES[k].system, SCENES[k].rows);
    print_message("%s: moved by %.2g V\n", SCENES[k].what, v);
    assert_true(v < 1e-9);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(whatever_the_order)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
