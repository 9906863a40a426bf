/* The car of the safety tests: every part in place, nothing to complain about, and helpers to look for words
 * among the findings. */
#ifndef TAILVOLT_TEST_SAFETY_CAR_H
#define TAILVOLT_TEST_SAFETY_CAR_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/conductor.h"
#include "parts/fuse.h"
#include "simulate/safety.h"
#include "support/assert_near.h"

enum { GROUND, POST, FUSED, PLUS, MINUS, STUD, BODY, BLOCK, ALTERNATOR, SPARE, SECOND, POINTS = 16 };
enum { CHARGE, STRAP, NEGATIVE, FUSE, FEED, RETURN, JOINT_STUD, SHELL, FITTED, CONDUCTORS = 20 };

/* The plain car: every part in place, nothing to complain about. */
struct car {
  struct tailvolt_system system;
  struct tailvolt_battery batteries[2];
  struct tailvolt_conductor conductors[CONDUCTORS];
  struct tailvolt_capacitor capacitors[1];
  struct tailvolt_isolator isolators[1];
  struct tailvolt_amplifier amplifiers[2];
  char points[POINTS][TAILVOLT_NAME_MAX];
};

static inline void lay(struct car *car, int k, const char *name, int from, int to, const char *size,
                       double length_m) {
  struct tailvolt_conductor *c = &car->conductors[k];
  struct tv_section section;
  memset(c, 0, sizeof *c);
  int number = (int)strtol(size, NULL, 10);
  if (strstr(size, "AWG") != NULL) {
    assert_true(tv_section_from_awg(strncmp(size, "1/0", 3) == 0 ? 0 : number, TAILVOLT_COPPER, &section));
  } else {
    assert_true(tv_section_from_mm2(number, TAILVOLT_COPPER, &section));
  }
  snprintf(c->name, sizeof c->name, "%s", name);
  snprintf(c->size, sizeof c->size, "%s", size);
  c->kind = TAILVOLT_CABLE;
  c->from = from;
  c->to = to;
  c->length_m = length_m;
  c->resistance_ohm = section.r20_ohm_per_m * length_m;
  c->temperature_per_k = tv_material_temperature_per_k(TAILVOLT_COPPER);
  c->area_m2 = tv_material_resistivity_ohm_m(TAILVOLT_COPPER) / section.r20_ohm_per_m;
  c->outer_m = section.outer_m;
  c->insulation_limit_c = 85.0;
  c->distance_m = (double)NAN;
}

static inline void fit_fuse(struct car *car, int k, const char *name, int from, int to, double rating_a,
                            double distance_m) {
  struct tailvolt_conductor *c = &car->conductors[k];
  memset(c, 0, sizeof *c);
  snprintf(c->name, sizeof c->name, "%s", name);
  c->kind = TAILVOLT_FUSE;
  c->fuse_kind = TAILVOLT_BOLT_DOWN;
  c->from = from;
  c->to = to;
  c->rating_a = rating_a;
  c->distance_m = distance_m;
  c->resistance_ohm = tv_fuse_resistance_ohm(rating_a);
}

static inline void join(struct car *car, int k, const char *name, int from, int to, double ohm) {
  struct tailvolt_conductor *c = &car->conductors[k];
  memset(c, 0, sizeof *c);
  snprintf(c->name, sizeof c->name, "%s", name);
  c->kind = TAILVOLT_JOINT;
  c->from = from;
  c->to = to;
  c->resistance_ohm = ohm;
  c->distance_m = (double)NAN;
}

static inline void make_battery(struct tailvolt_battery *battery, const char *name, int positive,
                                int negative) {
  memset(battery, 0, sizeof *battery);
  snprintf(battery->name, sizeof battery->name, "%s", name);
  battery->positive = positive;
  battery->negative = negative;
  battery->kind = TAILVOLT_AGM;
  battery->place = TAILVOLT_ENGINE_BAY;
  battery->soc_frac = 0.85;
  battery->capacity_ah = 70.0;
  battery->cold_cranking_a = 640.0;
  battery->resistance_ohm = 6e-3;
}

static inline void make_car(struct car *car) {
  memset(car, 0, sizeof *car);
  struct tailvolt_system *s = &car->system;
  s->vehicle.ambient_c = 25.0;
  s->vehicle.engine_bay_c = 60.0;
  s->alternator = (struct tailvolt_alternator){.present = true,
                                               .positive = ALTERNATOR,
                                               .negative = BLOCK,
                                               .set_point_v = 14.3,
                                               .drift_v_per_k = -0.01};
  s->point_count = POINTS;
  s->point_names = car->points;
  s->battery_count = 1;
  s->batteries = car->batteries;
  s->conductor_count = FITTED;
  s->conductors = car->conductors;
  s->capacitors = car->capacitors;
  s->isolators = car->isolators;
  s->amplifier_count = 1;
  s->amplifiers = car->amplifiers;
  make_battery(&car->batteries[0], "starter", POST, GROUND);
  lay(car, CHARGE, "charge lead", ALTERNATOR, POST, "25 mm2", 1.2);
  lay(car, STRAP, "engine", BLOCK, BODY, "25 mm2", 0.5);
  car->conductors[STRAP].kind = TAILVOLT_STRAP;
  lay(car, NEGATIVE, "negative lead", BODY, GROUND, "25 mm2", 0.6);
  fit_fuse(car, FUSE, "main", POST, FUSED, 60.0, 0.30);
  lay(car, FEED, "feed", FUSED, PLUS, "8 AWG", 5.5);
  lay(car, RETURN, "amplifier ground", MINUS, STUD, "8 AWG", 0.8);
  join(car, JOINT_STUD, "body stud", STUD, SPARE, 0.3e-3);
  join(car, SHELL, "body shell", SPARE, BODY, 0.7e-3);
  car->conductors[SHELL].role = TAILVOLT_ROLE_BODY;
  struct tailvolt_amplifier *a = &car->amplifiers[0];
  snprintf(a->name, sizeof a->name, "%s", "bass");
  a->positive = PLUS;
  a->negative = MINUS;
  a->rated_w = 500.0;
  a->rated_v = 14.4;
  a->efficiency_frac = 0.82;
  a->fuses_a = (double)NAN;
}

struct sentence {
  char text[TAILVOLT_TEXT_MAX];
};

static inline struct sentence text_of(const struct tailvolt_finding *finding) {
  struct sentence made;
  tailvolt_finding_text(finding, false, made.text, sizeof made.text);
  assert_true(made.text[0] != '\0');
  return made;
}

static inline struct tv_finding_list check(const struct car *car, const struct tailvolt_result *result) {
  struct tv_finding_list list;
  memset(&list, 0, sizeof list);
  assert_int_equal(tv_safety_check(&car->system, result, &list), TAILVOLT_OK);
  for (int k = 0; k < list.count; k++) {
    assert_true(strlen(text_of(&list.finding[k]).text) <= 200);
    assert_true(list.finding[k].kind > TAILVOLT_FOUND_NONE && list.finding[k].kind < TAILVOLT_FOUND_KINDS);
    assert_true(k == 0 || list.finding[k - 1].status >= list.finding[k].status);
    for (int j = 0; j < k; j++) {
      assert_string_not_equal(text_of(&list.finding[j]).text, text_of(&list.finding[k]).text);
    }
  }
  return list;
}

static inline int count_of(const struct tv_finding_list *list, enum tailvolt_verdict status) {
  int count = 0;
  for (int k = 0; k < list->count; k++) {
    count += list->finding[k].status == status;
  }
  return count;
}

static inline void tell(const struct tv_finding_list *list) {
  for (int k = 0; k < list->count; k++) {
    print_message("  %d: %s\n", (int)list->finding[k].status, text_of(&list->finding[k]).text);
  }
}

/* The car has exactly `times` findings of this severity whose text holds the words. */
static inline void expect_times(const struct car *car, const struct tailvolt_result *result,
                                enum tailvolt_verdict status, const char *words, int times) {
  struct tv_finding_list list = check(car, result);
  int seen = 0;
  for (int k = 0; k < list.count; k++) {
    seen += list.finding[k].status == status && strstr(text_of(&list.finding[k]).text, words) != NULL;
  }
  if (seen != times) {
    tell(&list);
    fail_msg("\"%s\" found %d times, wanted %d", words, seen, times);
  }
  tv_finding_list_free(&list);
}

static inline void expect(const struct car *car, enum tailvolt_verdict status, const char *words) {
  expect_times(car, NULL, status, words, 1);
}

static inline void expect_none(const struct car *car, const char *words) {
  for (int status = TAILVOLT_HOLDS; status <= TAILVOLT_FAILS; status++) {
    expect_times(car, NULL, (enum tailvolt_verdict)status, words, 0);
  }
}

/* No finding worse than a caution. */
static inline void expect_sound(const struct car *car, const struct tailvolt_result *result) {
  struct tv_finding_list list = check(car, result);
  if (count_of(&list, TAILVOLT_FAILS) + count_of(&list, TAILVOLT_MARGINAL) > 0) {
    tell(&list);
    fail_msg("a sound car is complained of");
  }
  tv_finding_list_free(&list);
}

/* Second battery at the amplifier, joined through a relay. */
static inline void make_two_batteries(struct car *car, bool fuse_at_second) {
  make_car(car);
  make_battery(&car->batteries[1], "second", SECOND, STUD);
  car->system.battery_count = 2;
  car->system.conductor_count = FITTED + 3;
  car->system.isolator_count = 1;
  struct tailvolt_isolator *relay = &car->isolators[0];
  snprintf(relay->name, sizeof relay->name, "%s", "split charge");
  relay->kind = TAILVOLT_RELAY;
  relay->from = SPARE + 5;
  relay->to = SPARE + 4;
  relay->closes_above_v = 13.3;
  relay->resistance_ohm = 1e-3;
  relay->rating_a = 200.0;
  fit_fuse(car, FITTED, "link front", POST, SECOND + 1, 100.0, 0.3);
  lay(car, FITTED + 1, "link", SECOND + 1, SPARE + 5, "25 mm2", 4.0);
  if (fuse_at_second) {
    fit_fuse(car, FITTED + 2, "link rear", SPARE + 4, SECOND, 100.0, 0.2);
  } else {
    join(car, FITTED + 2, "link rear", SPARE + 4, SECOND, 0.3e-3);
  }
}

#endif
