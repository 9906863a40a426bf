/* Random systems and profiles that are valid, over all kinds of parts and most keys; a number makes one. */
#ifndef TAILVOLT_TEST_RANDOM_CAR_H
#define TAILVOLT_TEST_RANDOM_CAR_H

#include <stdbool.h>

enum { CAR_AMPLIFIERS = 3, CAR_LOADS = 3, CAR_TEXT = 16384 };

struct car {
  int amplifiers, loads;
  bool no_cut_out;       /* every comparator is off */
  bool one_feed;         /* a single amplifier whose feed is "cable NAME" of car_feed() */
  char system[CAR_TEXT], profile[CAR_TEXT];
};

/* The same number makes the same car. `renamed`: every part and point has another name; `order`: 0 = the usual order of sections,
 * other numbers shuffle them. */
void car_make(unsigned long long number, bool renamed, unsigned long long order, struct car *car);

/* Name of amplifier k, and the key of the feed's size. */
const char *car_amplifier(int k, bool renamed);
const char *car_feed(bool renamed);

#endif
