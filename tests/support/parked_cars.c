#include "support/parked_cars.h"

#include <math.h>
#include <stdio.h>

#include "support/assert_near.h"
#include "support/scenes.h"

struct tailvolt_system *parked_bench(const char *more) {
  char text[8192];
  snprintf(text, sizeof text,
           "[vehicle]\ncharging = none\nkey-off draw = 0 mA\n[engine]\nstarts from = one\n"
           "[battery one]\npositive = post\nnegative = ground\nkind = flooded\ncapacity = 70 Ah\n"
           "reserve = 117.7 min\ncold cranking = 640 A EN\nstate of charge = 100 %%\nhealth = 100 %%\n"
           "[joint tap]\nfrom = post\nto = drain\nresistance = 1 uohm\n"
           "[amplifier drain]\npositive = drain\nnegative = ground\nrated power = 400 W\n"
           "cut-out voltage = 10.5 V\n%s",
           more);
  return scene_parse(text);
}

struct tailvolt_system *parked_car(double ambient_c, const char *feed_size, const char *topology,
                                   const char *more) {
  char text[8192];
  snprintf(text, sizeof text,
           "[vehicle]\nambient = %g C\n[engine]\nsize = 1.6 L petrol\ncranking current = 150 A\n"
           "breakaway current = 450 A\nstarts from = one\n"
           "[alternator]\npositive = post\nnegative = block\nrated current = 90 A\nlow current = 45 A\n"
           "[battery one]\npositive = post\nnegative = ground\nkind = flooded\ncapacity = 45 Ah\n"
           "cold cranking = 420 A EN\nstate of charge = 85 %%\nhealth = 90 %%\n"
           "[strap engine]\nfrom = block\nto = ground\nsize = 25 mm2\nlength = 0.5 m\n"
           "[cable feed]\nfrom = post\nto = plus\nsize = %s\nlength = 5 m\n"
           "[cable return]\nfrom = minus\nto = ground\nsize = 10 mm2\nlength = 1 m\n"
           "[amplifier bass]\npositive = plus\nnegative = minus\nrated power = 600 W\ntopology = %s\n"
           "[programme beat]\ncrest factor = 9 dB\ntempo = 240 /min\ndecay = 60 ms\nbass note = 0 Hz\nphrases = 0 %%\n%s",
           ambient_c, feed_size, topology, more);
  return scene_parse(text);
}

struct tailvolt_system *parked_ordinary(void) {
  return parked_car(25, "10 mm2", "d", "");
}

struct tailvolt_parked *parked_play(const struct tailvolt_system *system,
                                    const struct tailvolt_profile *profile,
                                    const struct tailvolt_parked_options *options) {
  struct tailvolt_parked *parked = NULL;
  char error[TAILVOLT_TEXT_MAX];
  enum tailvolt_status status = tailvolt_parked(system, profile, options, &parked, error);
  if (status != TAILVOLT_OK) fail_msg("status %d: %s", (int)status, error);
  return parked;
}

struct tailvolt_profile *parked_drain(const struct tailvolt_system *system, double current_a) {
  char text[256];
  snprintf(text, sizeof text, "time_s,supply_a:drain\n0,%g\n60,%g\n", current_a, current_a);
  return scene_profile(system, text);
}

double parked_or_never(double time_s) {
  return isnan(time_s) ? HUGE_VAL : time_s;
}
