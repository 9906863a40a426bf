/* A relay or converter switched by the ignition in place of the voltage, as settings of the system file. */
#ifndef TV_STUDY_ON_BY_IGNITION_H
#define TV_STUDY_ON_BY_IGNITION_H

#include "tailvolt/system.h"

struct tv_on_by_ignition {
  int count;
  struct {
    const char *key; /* in [isolator NAME] */
    char value[48];
  } setting[3];
};

/* `kind`: what it is, or becomes. Thresholds that the file states for its voltage give way to those that guard the starter battery. */
struct tv_on_by_ignition tv_on_by_ignition(enum tailvolt_isolator_kind kind);

#endif
