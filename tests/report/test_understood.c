/* What `check` prints of a system and of a profile: every part with its points and its figures. */
#include "support/assert_near.h"

#include <stdio.h>
#include <string.h>

#include "report/understood.h"
#include "support/scenes.h"
#include "tailvolt/tailvolt.h"

static struct tailvolt_system *read_car(const char *text) {
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  faults = (struct tailvolt_faults){0};
  if (tailvolt_system_parse(text, "car.ini", NULL, 0, &system, &faults) != TAILVOLT_OK)
    fail_msg("%s", faults.fault[0].message);
  return system;
}

/* All words appear on one line, in this order. */
static void line(const char *text, const char *const *words) {
  for (const char *at = text; *at != '\0';) {
    size_t length = strcspn(at, "\n");
    const char *from = at;
    int k = 0;
    for (; words[k] != NULL; k++) {
      const char *found = strstr(from, words[k]);
      if (found == NULL || found + strlen(words[k]) > at + length) break;
      from = found + strlen(words[k]);
    }
    if (words[k] == NULL) return;
    at += length + (at[length] == '\n');
  }
  fail_msg("no line with `%s` ... in\n%s", words[0], text);
}
#define LINE(text, ...) line(text, (const char *const[]){__VA_ARGS__, NULL})

/* The words appear somewhere, however their blanks were wrapped. */
static void said(const char *text, const char *words) {
  for (const char *at = text; *at != '\0'; at++) {
    const char *a = at, *b = words;
    while (*a != '\0' && *b != '\0') {
      if (*b == ' ' && (*a == ' ' || *a == '\n')) {
        a += strspn(a, " \n");
        b++;
      } else if (*a++ != *b++) {
        break;
      } else if (*b == '\0') {
        return;
      }
    }
  }
  fail_msg("`%s` is not said in\n%s", words, text);
}

static void narrow(const char *text) {
  for (const char *at = text; *at != '\0';) {
    size_t length = strcspn(at, "\n");
    if (length > 100) fail_msg("%d columns: %.110s", (int)length, at);
    at += length + (at[length] == '\n');
  }
}

/* Every kind of part, each with a recognisable value. */
static const char all[] =
    "[vehicle]\nname = Puppet van\nbase load = 41 A\n[engine]\nstarts from = front\n"
    "[battery front]\npositive = front post\nnegative = ground\ncapacity = 70 Ah\ncold cranking = 640 A EN\n"
    "state of charge = 80 % measured\nhealth = 70 %\ncranking health = 90 %\n"
    "[battery second]\npositive = rear post\nnegative = ground\ncapacity = 60 Ah\nkind = AGM\nplace = boot\nvented = yes\n"
    "rested voltage = 12.5 V\n"
    "[alternator]\npositive = front post\nnegative = ground\nrated current = 120 A\npulley ratio = 2.5\n"
    "[isolator charge relay]\nkind = relay\nfrom = front post\nto = rear post\n"
    "[isolator charger]\nkind = converter\nfrom = front post\nto = rear post\noutput = 20 A at 14.4 V\nsense = engine\n"
    "[isolator both ways]\nkind = relay\nfrom = front post\nto = rear post\nsense = either\n"
    "[capacitor stiffener]\npositive = plus\nnegative = ground\ncapacitance = 1 F\nesr = 2 mohm\n"
    "[load lamps]\npositive = front post\nnegative = ground\npower = 110 W\n"
    "[cable feed]\nfrom = rear post\nto = fused\nsize = 4 AWG\nlength = 1.5 m\nmaterial = clad aluminium\n"
    "[fuse main]\nfrom = fused\nto = plus\nrating = 80 A\n"
    "[joint stud]\nfrom = plus\nto = bus\nresistance = 0.4 mohm\n"
    "[amplifier bass]\npositive = bus\nnegative = ground\nrated power = 800 W\nclass = D\nefficiency = 80 %\n"
    "[meter at the bus]\npositive = bus\nnegative = ground\n"
    "[programme show]\ncrest factor = 9 dB\ntempo = 120 /min\nbass note = 50 Hz\n"
    "[targets]\nvoltage = 12.1 V\nparked = 2 h\n";

static void test_every_part(void **state) {
  (void)state;
  struct tailvolt_system *system = read_car(all);
  const struct tailvolt_report_style style = {0};
  char *text = tv_system_understood(system, &style);
  assert_non_null(text);
  narrow(text);
  LINE(text, "car.ini: Puppet van");
  LINE(text, "alternator", "120 A at", "rpm of its rotor");
  LINE(text, "battery front", "70 Ah", "640 A EN cold cranking; 80 % charged");
  said(text, "holds 70 % of its label's charge, cranks with 90 % of its label's current; in the engine bay; starts the car");
  LINE(text, "battery second", "60 Ah", "rested at 12.5 V");
  said(text, "in the boot, vented");
  LINE(text, "capacitor stiffener", "1 F behind 2 mohm");
  LINE(text, "isolator charge relay", "relay from front post to rear post");
  LINE(text, "isolator charger", "converter from front post to rear post, on while the engine runs");
  LINE(text, "isolator both ways", "relay from front post to rear post, by the higher voltage of the two");
  LINE(text, "car takes", "41 A while the engine runs");
  LINE(text, "amplifier bass", "800 W at", "class D", "80 % efficient");
  LINE(text, "programme show", "crest factor 9 dB", "120 beats a minute");
  said(text, "12.1 V at the amplifier with the engine on,");
  said(text, "; 2.0 h of playing parked");
  LINE(text, "measured", "battery front.state of charge");
  LINE(text, "FEED PATH of bass, there and back: ", " mohm at 20 C, that is ", " V lost at 100 A");
  LINE(text, "cable feed", "rear post", "fused", "4 AWG, 1.5 m, clad aluminium");
  LINE(text, "fuse main", "fused", "plus", "80 A");
  LINE(text, "joint stud", "plus", "bus", "0.40");
  LINE(text, "meter at the bus", "bus", "ground");
  tailvolt_report_free(text);
  const struct tailvolt_report_style us = {.us_units = true};
  text = tv_system_understood(system, &us);
  narrow(text);
  LINE(text, "cable feed", "4 AWG, 4.9 ft");
  LINE(text, "mohm at 68 F");
  tailvolt_report_free(text);
  text = tv_batteries_explained(system);
  LINE(text, "front");
  LINE(text, "second");
  tailvolt_report_free(text);
  tailvolt_system_free(system);
}

/* Chosen sizes are distinguished from stated ones, and so are fuses that only replace a missing one. */
static void test_chosen(void **state) {
  (void)state;
  struct tailvolt_system *system =
      read_car("[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
               "[cable feed]\nlength = 5.5 m\n");
  const struct tailvolt_report_style style = {0};
  char *text = tv_system_understood(system, &style);
  narrow(text);
  LINE(text, "wired as the standard car");
  LINE(text, "cable feed", " (chosen), 5.5 m");
  LINE(text, " A, assumed");
  LINE(text, "POINTS that meters, loads, joints and cables of the file may join");
  LINE(text, "--set");
  tailvolt_report_free(text);
  tailvolt_system_free(system);
}

static void test_profile(void **state) {
  (void)state;
  struct tailvolt_system *system = read_car(all);
  struct tailvolt_profile *profile =
      scene_profile(system, "time_s,engine_rpm,programme,level_db,ambient_c\n0,800,show,0,-5\n60,800,show,-3,5\n120,2500,silence,"
                            "-3,5\n180,0,show,-6,5\n240,0,show,-6,5\n");
  const struct tailvolt_report_style style = {0};
  char *text = tv_profile_understood("evening.csv", profile, system, &style);
  assert_non_null(text);
  narrow(text);
  LINE(text, "evening.csv: 5 rows, 4.0 min from 0:00.0 to 4:00, for car.ini");
  LINE(text, "at idle 2.0 min, on the road 60 s, parked 60 s; engine at 800 to 2500 rpm; air of -5 to 5 C");
  LINE(text, "plays for 3.0 min, level -6 to 0 dB");
  tailvolt_report_free(text);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_every_part), cmocka_unit_test(test_chosen),
                                     cmocka_unit_test(test_profile)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
