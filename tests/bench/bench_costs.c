/* What a step costs, and how that grows: nanoseconds of processor time per step for networks that differ in one thing.
 * The table is in DEVELOPERS.md; every figure is also a multiple of the hand loop's step, measured in the same run. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench/hand_loop.h"
#include "simulate/lanes.h"
#include "support/assert_near.h"
#include "support/scenes.h"

enum { REPEATS = 5, ROOM = 16384 };
#define DURATION_S 20.0

/* One explicit battery and an ideal source; the rest is built on these. */
static const char CORE[] =
    "[alternator]\npositive = alternator post\nnegative = ground\nset point = 14.2 V\ndroop = 5 mohm\n"
    "fixed output = 70 A\nfield time constant = 0 ms\n"
    "[joint charge lead]\nfrom = alternator post\nto = battery post\nresistance = 3 mohm\n"
    "[battery starter]\npositive = battery post\nnegative = ground\ncapacity = 60 Ah\nstate of charge = 90 "
    "%\n"
    "resistance = 6 mohm\npolarization = 4 mohm, 10 s\nopen circuit = 11.9 V at 0 %, 12.8 V at 100 %\n";

struct text {
  char at[ROOM];
  size_t length;
};

static void add(struct text *text, const char *format, int a, int b, int c) {
  int more = snprintf(text->at + text->length, ROOM - text->length, format, a, b, c);
  if (more > 0) text->length += (size_t)more;
  if (text->length >= ROOM) exit(4);
}

/* Amplifiers on feeds of `joints` pieces each, with storage or without; constant-power and resistor loads; meters. */
static struct tailvolt_system *network(int amplifiers, int joints, bool storage, int powers, int resistors,
                                       int meters) {
  static struct text text;
  text.length = 0;
  add(&text, CORE, 0, 0, 0);
  for (int k = 0; k < amplifiers; k++) {
    for (int j = 0; j < joints; j++) {
      add(&text, "[joint feed %d %d]\nresistance = 2 mohm\n", k, j, 0);
      if (j == 0)
        add(&text, "from = battery post\n", 0, 0, 0);
      else
        add(&text, "from = point %d %d\n", k, j, 0);
      add(&text, j == joints - 1 ? "to = plus %d\n" : "to = point %d %d\n", k, j + 1, 0);
    }
    add(&text,
        "[amplifier bass %d]\npositive = plus %d\nnegative = ground\nrated power = 300 W\nsupply = "
        "regulated\n",
        k, k, 0);
    add(&text, "cut-out voltage = 0 V\n", 0, 0, 0);
  }
  for (int k = 0; k < powers; k++)
    add(&text,
        "[load power %d]\npositive = battery post\nnegative = ground\npower = 20 W\nbehaves = constant "
        "power\n",
        k, 0, 0);
  for (int k = 0; k < resistors; k++)
    add(&text, "[load lamp %d]\npositive = plus 0\nnegative = ground\npower = 20 W\nbehaves = resistor\n", k,
        0, 0);
  for (int k = 0; k < meters; k++) add(&text, "[meter %d]\npositive = plus 0\nnegative = ground\n", k, 0, 0);
  struct tailvolt_system *system = scene_parse(text.at);
  if (!storage)
    for (int k = 0; k < amplifiers; k++)
      system->amplifiers[k].internal_f = system->amplifiers[k].internal_ohm = 0;
  return system;
}

/* `lanes` identical systems side by side; 0 = the public call. */
static void row(const char *name, struct tailvolt_system *system, int lanes, double hand_ns) {
  char text[96];
  snprintf(text, sizeof text, "time_s,engine_rpm,level_db\n0,800,0\n%g,800,0\n", DURATION_S);
  struct tailvolt_profile *profile = scene_profile(system, text);
  struct tailvolt_options options = tailvolt_default_options();
  options.settle_s = 0; /* its steps are not counted */
  struct tv_lane_job job[8];
  struct tv_lanes_how how = {.threads = 1, .lanes = lanes > 0 ? lanes : 1};
  int count = lanes > 0 ? lanes : 1;
  double best_ns = 1e9;
  for (int k = 0; k < REPEATS; k++) {
    memset(job, 0, sizeof job);
    for (int j = 0; j < count; j++)
      job[j].system = system, job[j].profile = profile, job[j].options = &options;
    double begun_s = hand_used_s();
    if (tv_lanes_simulate(job, count, NULL, &how) != TAILVOLT_OK || job[0].result == NULL) {
      printf("%-46s %s\n", name, job[0].error);
      return;
    }
    double used_ns = 1e9 * (hand_used_s() - begun_s), steps = (double)job[0].result->steps;
    best_ns = fmin(best_ns, used_ns / steps / count);
    for (int j = 0; j < count; j++) tailvolt_result_free(job[j].result);
  }
  printf("%-46s %8.0f ns %8.1f\n", name, best_ns, best_ns / hand_ns);
  fflush(stdout);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

int main(void) {
  double hand_ns = 1e9 / hand_loop(true, 60, 9).system_steps_per_s;
  printf("%-46s %8.0f ns %8.1f\n", "hand loop", hand_ns, 1.0);
  row("one amplifier, no storage", network(1, 1, false, 0, 0, 0), 0, hand_ns);
  row("... with storage", network(1, 1, true, 0, 0, 0), 0, hand_ns);
  row("... and 8 points more in its feed", network(1, 9, true, 0, 0, 0), 0, hand_ns);
  row("... and 32 points more", network(1, 33, true, 0, 0, 0), 0, hand_ns);
  row("... and 1 constant-power load", network(1, 1, true, 1, 0, 0), 0, hand_ns);
  row("... and 4 constant-power loads at one point", network(1, 1, true, 4, 0, 0), 0, hand_ns);
  row("... and 4 resistors", network(1, 1, true, 0, 4, 0), 0, hand_ns);
  row("... and 4 meters", network(1, 1, true, 0, 0, 4), 0, hand_ns);
  row("2 amplifiers with storage", network(2, 1, true, 0, 0, 0), 0, hand_ns);
  row("4 amplifiers with storage", network(4, 1, true, 0, 0, 0), 0, hand_ns);
  row("8 amplifiers with storage", network(8, 1, true, 0, 0, 0), 0, hand_ns);
  for (int lanes = 1; lanes <= 8; lanes *= 2) {
    char name[64];
    snprintf(name, sizeof name, "ten-line file, %d lane%s, a system", lanes, lanes > 1 ? "s" : "");
    row(name, scene_read("examples/reference/ten-line.ini"), lanes, hand_ns);
    snprintf(name, sizeof name, "van, %d lane%s, a system", lanes, lanes > 1 ? "s" : "");
    row(name, scene_read("examples/van-800w-8awg/system.ini"), lanes, hand_ns);
  }
  return 0;
}
