/* Rare events of one lane, handled in the run's own block of one lane: the same code for every width. */
#ifndef TV_SIMULATE_EVENT_H
#define TV_SIMULATE_EVENT_H

#include "simulate/hot.h"

enum tailvolt_status tv_hot_event(struct tv_hot *hot, int lane, enum tv_event event, int index);

#endif
