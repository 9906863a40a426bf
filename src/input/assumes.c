#include "input/assumes.h"

#include <string.h>

bool tv_system_assumes(const struct tailvolt_system *system, const char *key) {
  for (int k = 0; k < system->assumption_count; k++)
    if (strcmp(system->assumptions[k].key, key) == 0) return true;
  return false;
}

bool tv_system_measures(const struct tailvolt_system *system, const char *key) {
  for (int k = 0; k < system->measured_count; k++)
    if (strcmp(system->measured[k].key, key) == 0) return true;
  return false;
}
