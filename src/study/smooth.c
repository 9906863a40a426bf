#include "study/smooth.h"

#include <stdlib.h>

enum tailvolt_status tv_smooth_copy(const struct tailvolt_system *system, struct tailvolt_system *smooth) {
  size_t amplifiers = (size_t)system->amplifier_count, programmes = (size_t)system->programme_count;
  *smooth = *system;
  smooth->amplifiers = calloc(amplifiers + 1, sizeof *smooth->amplifiers);
  smooth->programmes = calloc(programmes + 1, sizeof *smooth->programmes);
  if (smooth->amplifiers == NULL || smooth->programmes == NULL) return TAILVOLT_NO_MEMORY;
  for (size_t k = 0; k < amplifiers; k++) {
    smooth->amplifiers[k] = system->amplifiers[k];
    smooth->amplifiers[k].internal_f = 0;
  }
  for (size_t k = 0; k < programmes; k++) {
    smooth->programmes[k] = system->programmes[k];
    smooth->programmes[k].bass_hz = 0;
  }
  return TAILVOLT_OK;
}

void tv_smooth_free(struct tailvolt_system *smooth) {
  free(smooth->amplifiers);
  free(smooth->programmes);
  smooth->amplifiers = NULL;
  smooth->programmes = NULL;
}
