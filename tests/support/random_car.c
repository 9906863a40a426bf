#include "support/random_car.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SECTIONS = 48, SECTION_TEXT = 1400 };

struct maker {
  unsigned long long state;
  bool renamed, own; /* own: all wiring is the file's */
  int count;
  char section[SECTIONS][SECTION_TEXT];
  double set_point_v;
  struct car *car;
};

/* splitmix64 (Steele, Lea and Flood 2014) */
static unsigned long long next(unsigned long long *state) {
  unsigned long long z = *state += 0x9E3779B97F4A7C15ull;
  z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9ull;
  z = (z ^ z >> 27) * 0x94D049BB133111EBull;
  return z ^ z >> 31;
}

static double share(struct maker *m) { return (double)(next(&m->state) >> 11) / 9007199254740992.0; }
static bool chance(struct maker *m, double p) { return share(m) < p; }
static double between(struct maker *m, double low, double high) { return low + (high - low) * share(m); }
static double log_between(struct maker *m, double low, double high) { return low * pow(high / low, share(m)); }
static int pick(struct maker *m, int count) { return (int)(next(&m->state) % (unsigned long long)count); }

static void add(char *to, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void add(char *to, const char *format, ...) {
  size_t used = strlen(to);
  va_list arguments;
  va_start(arguments, format);
  if (vsnprintf(to + used, SECTION_TEXT - used, format, arguments) >= (int)(SECTION_TEXT - used)) abort();
  va_end(arguments);
}

/* Two names for everything. */
static const char *name(const struct maker *m, const char *usual, const char *other) { return m->renamed ? other : usual; }

const char *car_amplifier(int k, bool renamed) {
  static const char *const names[2][CAR_AMPLIFIERS] = {{"bass", "tops", "middle"}, {"zebra", "aardvark", "newt"}};
  return names[renamed][k];
}
static const char *load_name(int k, bool renamed) {
  static const char *const names[2][CAR_LOADS] = {{"lights", "blower", "pump"}, {"yak", "bat", "lynx"}};
  return names[renamed][k];
}
const char *car_feed(bool renamed) { return renamed ? "cable ox" : "cable main feed"; }

static char *section(struct maker *m, const char *kind, const char *called) {
  if (m->count == SECTIONS) abort();
  char *text = m->section[m->count++];
  text[0] = '\0';
  add(text, "[%s%s%s]\n", kind, called[0] != '\0' ? " " : "", called);
  return text;
}

static void between_points(char *to, const char *from, const char *other) { add(to, "from = %s\nto = %s\n", from, other); }

static void vehicle(struct maker *m) {
  char *v = section(m, "vehicle", "");
  add(v, "ambient = %.4g C\n", between(m, -25, 40));
  if (chance(m, 0.5)) add(v, "engine bay = %.4g C\n", between(m, 40, 100));
  if (chance(m, 0.3)) add(v, "warming time = %.4g s\n", log_between(m, 20, 2000));
  if (chance(m, 0.4)) add(v, "base load = %.4g A\n", between(m, 0, 60));
  if (chance(m, 0.2)) add(v, "battery sensor = yes\n");
  if (chance(m, 0.3)) add(v, "key-off draw = %.4g mA\n", log_between(m, 5, 500));
  if (chance(m, 0.3)) add(v, "headlamps = %s\n", chance(m, 0.5) ? "halogen" : "LED");
  char *e = section(m, "engine", "");
  add(e, "size = %.2g L %s\n", between(m, 0.8, 4), chance(m, 0.5) ? "petrol" : "diesel");
  if (chance(m, 0.4)) add(e, "idle speed = %.4g rpm\n", between(m, 650, 950));
  if (chance(m, 0.2)) add(e, "simulate starts = yes\n");
  if (chance(m, 0.2)) add(e, "stop and start = yes\n");
  if (chance(m, 0.2)) add(e, "cranking time = %.4g s\n", between(m, 0.3, 2));
  if (m->own) add(e, "starts from = %s\n", name(m, "starter", "elk"));
  char *t = section(m, "targets", "");
  add(t, "voltage = %.4g V\nvoltage parked = %.4g V\n", between(m, 10.5, 13), between(m, 10, 12));
  if (chance(m, 0.3)) add(t, "missed at most = %.3g %%\n", between(m, 0, 10));
}

static void alternator(struct maker *m) {
  double rated_a = log_between(m, 50, 300);
  char *a = section(m, "alternator", "");
  if (m->own) add(a, "positive = %s\nnegative = %s\n", name(m, "alternator post", "p9"), "engine block");
  m->set_point_v = between(m, 13.6, 14.8);
  if (chance(m, 0.15)) {
    add(a, "set point = %.4g V .. %.4g V\n", between(m, 12.2, 13), m->set_point_v);
    for (int s = 0; s < m->count; s++)
      if (strncmp(m->section[s], "[vehicle]", 9) == 0) add(m->section[s], "charging = computer\n");
  } else add(a, "set point = %.5g V\n", m->set_point_v);
  add(a, "rated current = %.4g A\n", rated_a);
  if (chance(m, 0.5)) add(a, "low current = %.4g A\n", rated_a * between(m, 0.35, 0.6));
  if (chance(m, 0.3)) add(a, "pulley ratio = %.3g\n", between(m, 2, 3.2));
  if (chance(m, 0.3)) add(a, "set point drift = %.3g mV/K\n", between(m, -15, 0));
  if (chance(m, 0.4)) add(a, "field time constant = %.3g ms\n", chance(m, 0.3) ? 0 : log_between(m, 10, 400));
  if (chance(m, 0.2)) add(a, "ramp = %.3g A/s\n", log_between(m, 10, 500));
  if (chance(m, 0.3)) add(a, "droop = %.3g mohm\n", between(m, 0.1, 10));
  if (m->own && chance(m, 0.3)) add(a, "sense = %s\n", name(m, "battery post", "p2"));
}

/* A label that such a battery can have: figures of a kind keep a ratio to its capacity. */
static void battery(struct maker *m, char *b) {
  static const struct { const char *word; double reserve, cranking; } kinds[] = {
      {"flooded", 1.6, 8}, {"EFB", 1.65, 9}, {"AGM", 1.75, 10}, {"gel", 1.6, 6}, {"lithium-iron", 0, 10}};
  int kind = pick(m, 5);
  double capacity_ah = log_between(m, 35, 120);
  add(b, "kind = %s\ncapacity = %.4g Ah\n", kinds[kind].word, capacity_ah);
  if (chance(m, 0.3)) add(b, "cold cranking = %.4g A EN\n", kinds[kind].cranking * capacity_ah * between(m, 0.9, 1.05));
  if (chance(m, 0.1) && kinds[kind].reserve > 0) add(b, "reserve = %.4g min\n", kinds[kind].reserve * capacity_ah);
  add(b, "state of charge = %.4g %%\nhealth = %.4g %%\n", between(m, 30, 100), between(m, 50, 100));
  if (chance(m, 0.3)) add(b, "cranking health = %.4g %%\n", between(m, 40, 110));
  if (chance(m, 0.15)) add(b, "resistance = %.4g mohm\n", between(m, 3, 15));
  if (chance(m, 0.1)) add(b, "polarization = %.4g mohm, %.4g s\n", between(m, 1, 6), log_between(m, 0.5, 100));
}

static void cable_kind(struct maker *m, char *c) {
  static const char *const materials[] = {"copper", "tinned copper", "clad aluminium", "aluminium"};
  static const char *const laid[] = {"free", "sleeve", "bundled", "carpet"};
  if (chance(m, 0.3)) add(c, "material = %s\n", materials[pick(m, 4)]);
  if (chance(m, 0.3)) add(c, "laid = %s\n", laid[pick(m, 4)]);
  if (chance(m, 0.2)) add(c, "insulation = %.3g C\n", between(m, 60, 150));
  if (chance(m, 0.2)) add(c, "place = engine bay\n");
}

static const char *const sizes[] = {"10 AWG", "8 AWG", "6 AWG", "4 AWG", "2 AWG", "1/0 AWG", "16 mm2", "35 mm2", "2 x 8 AWG"};

static void cable(struct maker *m, const char *called, const char *from, const char *to, double least_m, double most_m) {
  char *c = section(m, "cable", called);
  between_points(c, from, to);
  add(c, "size = %s\nlength = %.3g m\n", sizes[pick(m, 9)], between(m, least_m, most_m));
  cable_kind(m, c);
}

static void amplifier(struct maker *m, int k, double most_w) {
  char *a = section(m, "amplifier", car_amplifier(k, m->renamed));
  bool ab = chance(m, 0.4);
  double rated_w = log_between(m, 50, most_w);
  if (m->own) {
    char point[64];
    snprintf(point, sizeof point, "%s %d", name(m, "plus", "p8"), k);
    add(a, "positive = %s\n", point);
    snprintf(point, sizeof point, "%s %d", name(m, "minus", "p7"), k);
    add(a, "negative = %s\n", point);
  }
  if (chance(m, 0.2)) add(a, "channels = 2 x %.4g W at 4 ohm\n", rated_w / 2);
  else add(a, "rated power = %.4g W\n", rated_w);
  add(a, "topology = %s\n", ab ? "ab" : "d");
  if (chance(m, 0.3)) add(a, "supply = %s\n", chance(m, 0.5) ? "regulated" : "unregulated");
  if (chance(m, 0.3)) add(a, "efficiency = %.3g %%\n", ab ? between(m, 40, 65) : between(m, 70, 90));
  if (chance(m, 0.3)) add(a, "idle current = %.3g A\n", between(m, 0, 3));
  if (m->car->no_cut_out) add(a, "cut-out voltage = 0 V\n");
  else if (chance(m, 0.5)) add(a, "cut-out voltage = %.4g V\ncut-in voltage = %.4g V\n", between(m, 8, 10.5), between(m, 10.6, 12));
  if (chance(m, 0.3)) add(a, "cut-out delay = %.3g ms\nrestart delay = %.3g ms\n", between(m, 0, 100), between(m, 100, 2000));
  if (chance(m, 0.3)) add(a, "internal capacitance = %.3g F\n", chance(m, 0.3) ? 0 : log_between(m, 0.001, 1));
  if (chance(m, 0.3)) add(a, "internal resistance = %.3g mohm\n", between(m, 1, 20));
  if (chance(m, 0.2)) add(a, "level offset = %.3g dB\n", between(m, -6, 3));
  if (chance(m, 0.2)) add(a, "target voltage = %.4g V\n", between(m, 10, 13));
  if (chance(m, 0.2)) add(a, "programme = %s\n", name(m, "club", "gnu"));
  if (chance(m, 0.2)) add(a, "standby current = %.3g mA\n", between(m, 0, 50));
}

static void programmes(struct maker *m) {
  char *p = section(m, "programme", name(m, "club", "gnu"));
  add(p, "crest factor = %.3g dB\ntempo = %.4g /min\n", between(m, 4, 18), between(m, 50, 180));
  if (chance(m, 0.5)) add(p, "decay = %.4g ms\n", log_between(m, 20, 1000));
  add(p, "bass note = %.3g Hz\n", chance(m, 0.5) ? 0 : between(m, 30, 80));
  if (chance(m, 0.5)) add(p, "phrases = %.3g %%\n", between(m, 0, 120));
  if (chance(m, 0.5)) add(p, "seed = %d\n", pick(m, 1000));
  p = section(m, "programme", name(m, "talk", "kudu"));
  add(p, "crest factor = %.3g dB\nbass note = 0 Hz\nphrases = 0 %%\n", between(m, 6, 20));
}

static void loads(struct maker *m) {
  static const char *const behaves[] = {"resistor", "constant power", "constant current"};
  m->car->loads = pick(m, CAR_LOADS + 1);
  for (int k = 0; k < m->car->loads; k++) {
    char *l = section(m, "load", load_name(k, m->renamed));
    if (m->own || chance(m, 0.2)) add(l, "positive = %s\n", m->own ? name(m, "battery post", "p2") : "battery post");
    add(l, "power = %.4g W\n", log_between(m, 5, 300));
    add(l, "behaves = %s\n", behaves[pick(m, 3)]);
    if (chance(m, 0.3)) add(l, "lamp = halogen\n");
  }
}

static void isolator(struct maker *m, char *i) {
  int kind = pick(m, 3);
  add(i, "kind = %s\n", kind == 0 ? "relay" : kind == 1 ? "diode" : "converter");
  if (kind != 1 && chance(m, 0.6))
    add(i, "closes above = %.4g V\nopens below = %.4g V\ndelay = %.3g s\nopening delay = %.3g s\n", between(m, 12.9, 13.5),
        between(m, 12, 12.8), between(m, 0, 3), between(m, 0, 3));
  if (kind != 1 && chance(m, 0.3)) add(i, "sense = %s\n", chance(m, 0.5) ? "either" : "engine");
  if (kind == 1 && chance(m, 0.5)) add(i, "drop = %.3g V\n", between(m, 0.2, 0.8));
  if (kind == 2) add(i, "output = %.3g A at %.4g V\n", between(m, 10, 60), between(m, 13.8, 14.6));
}

/* The ten-line form with what a file may add to it. */
static void standard_car(struct maker *m) {
  struct car *car = m->car;
  battery(m, section(m, "battery", ""));
  alternator(m);
  bool second = car->amplifiers == 1 && chance(m, 0.3);
  for (int k = 0; k < car->amplifiers; k++) amplifier(m, k, car->amplifiers == 1 ? 1500 : 600);
  char *feed = section(m, "cable", "feed");
  add(feed, "size = %s\nlength = %.3g m\n", sizes[pick(m, 9)], second ? between(m, 0.5, 2) : between(m, 2, 7));
  cable_kind(m, feed);
  if (!second) return;
  char *b = section(m, "battery", name(m, "second", "ibex"));
  battery(m, b);
  add(b, "place = boot\n");
  isolator(m, section(m, "isolator", ""));
  char called[64];
  snprintf(called, sizeof called, "%s feed", name(m, "second", "ibex"));
  char *lead = section(m, "cable", called);
  add(lead, "size = %s\nlength = %.3g m\n", sizes[pick(m, 9)], between(m, 3, 7));
  for (int s = 0; s < m->count; s++)
    if (strncmp(m->section[s], "[amplifier", 10) == 0) add(m->section[s], "supply from = %s\n", name(m, "second", "ibex"));
}

/* Every cable, joint and point by name. */
static void own_wiring(struct maker *m) {
  struct car *car = m->car;
  const char *post = name(m, "battery post", "p2"), *body = "body", *block = name(m, "fused feed", "p4");
  char *b = section(m, "battery", name(m, "starter", "elk"));
  add(b, "positive = %s\n", post);
  battery(m, b);
  alternator(m);
  cable(m, name(m, "charge lead", "hare"), name(m, "alternator post", "p9"), post, 0.5, 2);
  char *s = section(m, "strap", name(m, "engine", "crab"));
  between_points(s, "engine block", body);
  add(s, "size = 25 mm2\nlength = %.3g m\n", between(m, 0.3, 1));
  cable(m, name(m, "negative lead", "ant"), body, "ground", 0.3, 1.2);
  char *f = section(m, "fuse", name(m, "main", "ram"));
  between_points(f, post, block);
  add(f, "rating = %d A\ndistance = %.3g cm\n", 40 + 20 * pick(m, 10), between(m, 5, 60));
  char *feed = section(m, "cable", car_feed(m->renamed) + strlen("cable "));
  between_points(feed, block, name(m, "plus 0", "p8 0"));
  add(feed, "size = %s\nlength = %.3g m\n", sizes[pick(m, 9)], between(m, 2, 7));
  for (int k = 0; k < car->amplifiers; k++) {
    char plus[64], minus[64], called[64];
    snprintf(plus, sizeof plus, "%s %d", name(m, "plus", "p8"), k);
    snprintf(minus, sizeof minus, "%s %d", name(m, "minus", "p7"), k);
    snprintf(called, sizeof called, "%s %d", name(m, "lead", "worm"), k);
    amplifier(m, k, car->amplifiers == 1 ? 1500 : 600);
    if (k > 0) cable(m, called, block, plus, 1, 6);
    snprintf(called, sizeof called, "%s %d", name(m, "ground", "ewe"), k);
    cable(m, called, minus, name(m, "stud", "p5"), 0.3, 1.5);
    if (!chance(m, 0.3)) continue;
    char *c = section(m, "capacitor", name(m, k == 0 ? "stiffener" : k == 1 ? "can" : "jar", k == 0 ? "owl" : k == 1 ? "cod" : "eel"));
    add(c, "positive = %s\nnegative = %s\ncapacitance = %.3g F\nesr = %.3g mohm\n", plus, minus, log_between(m, 0.1, 50),
        log_between(m, 0.3, 20));
  }
  char *j = section(m, "joint", name(m, "stud", "fox"));
  between_points(j, name(m, "stud", "p5"), body);
  if (chance(m, 0.3)) add(j, "measured drop = %.3g mV at %.3g A\n", between(m, 5, 60), between(m, 10, 60));
  else add(j, "resistance = %.3g mohm\n", log_between(m, 0.1, 10));
  char *meter = section(m, "meter", name(m, "there", "dove"));
  add(meter, "positive = %s\nnegative = %s\n", post, name(m, "minus 0", "p7 0"));
  if (!chance(m, 0.35)) return;
  b = section(m, "battery", name(m, "second", "ibex"));
  add(b, "positive = %s\nnegative = %s\n", block, name(m, "stud", "p5"));
  battery(m, b);
  /* the feed hangs on the second battery, behind fuse and isolator */
  char *i = section(m, "isolator", name(m, "split", "mole"));
  between_points(i, name(m, "far", "p6"), block);
  isolator(m, i);
  f[0] = '\0';
  add(f, "[fuse %s]\n", name(m, "main", "ram"));
  between_points(f, post, name(m, "far", "p6"));
  add(f, "rating = 100 A\n");
}

static void profile(struct maker *m) {
  struct car *car = m->car;
  char *to = car->profile;
  int rows = 2 + pick(m, 4), amplifier_column = chance(m, 0.4) ? pick(m, car->amplifiers) : -1;
  int load_column = car->loads > 0 && chance(m, 0.6) ? pick(m, car->loads) : -1, prescribed = chance(m, 0.12);
  double at_s = between(m, -5, 50);
  bool on = chance(m, 0.75);
  const char *amplifier_name = car_amplifier(amplifier_column < 0 ? 0 : amplifier_column, m->renamed);
  to[0] = '\0';
  add(to, "time_s,engine_rpm,programme,level_db,ambient_c,base_load_a");
  if (load_column >= 0) add(to, ",load:%s", load_name(load_column, m->renamed));
  if (amplifier_column >= 0) add(to, ",%s:%s", prescribed ? "supply_a" : "level_db", amplifier_name);
  add(to, "\n");
  for (int k = 0; k < rows; k++) {
    if (k > 0 && chance(m, 0.15)) on = !on;
    add(to, "%.4f,%.5g,%s,%.3g,%.3g,%.3g", at_s, on ? between(m, 700, 3500) : 0.0,
        chance(m, 0.15) ? "silence" : chance(m, 0.75) ? name(m, "club", "gnu") : name(m, "talk", "kudu"), between(m, -12, 2),
        between(m, -20, 40), chance(m, 0.5) ? 0 : between(m, 0, 15));
    if (load_column >= 0) add(to, ",%.3g", share(m));
    if (amplifier_column >= 0) add(to, ",%.3g", prescribed ? between(m, 0, 60) : between(m, -10, 2));
    add(to, "\n");
    at_s += between(m, 0.3, 3.5);
  }
}

void car_make(unsigned long long number, bool renamed, unsigned long long order, struct car *car) {
  static _Thread_local struct maker maker;
  struct maker *m = &maker;
  *m = (struct maker){.state = number * 2654435761ull + 12345, .renamed = renamed, .car = car};
  *car = (struct car){.amplifiers = 1};
  for (int k = 0; k < 3; k++) (void)next(&m->state);
  if (chance(m, 0.4)) car->amplifiers = 2 + pick(m, CAR_AMPLIFIERS - 1);
  m->own = chance(m, 0.5);
  car->no_cut_out = chance(m, 0.35);
  vehicle(m);
  programmes(m);
  if (m->own) own_wiring(m);
  else standard_car(m);
  car->one_feed = car->amplifiers == 1;
  loads(m);
  profile(m);
  for (int k = m->count - 1; k > 0 && order != 0; k--) {
    char text[SECTION_TEXT];
    int with = (int)(next(&order) % (unsigned long long)(k + 1));
    memcpy(text, m->section[k], sizeof text);
    memcpy(m->section[k], m->section[with], sizeof text);
    memcpy(m->section[with], text, sizeof text);
  }
  for (int k = 0; k < m->count; k++) {
    size_t used = strlen(car->system);
    if (used + strlen(m->section[k]) + 2 > sizeof car->system) abort();
    snprintf(car->system + used, sizeof car->system - used, "%s", m->section[k]);
  }
}
