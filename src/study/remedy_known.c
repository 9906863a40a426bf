/* The trials that have been run so far. */
#include <stdlib.h>
#include <string.h>

#include "study/remedy.h"

enum tailvolt_status tv_known_add(struct tv_known *known, struct tv_trial *trial) {
  if (known->count == known->room) {
    int room = 2 * known->room + 64;
    struct tv_trial *larger = realloc(known->trial, (size_t)room * sizeof *larger);
    if (larger == NULL) {
      tv_trial_clear(trial);
      return TAILVOLT_NO_MEMORY;
    }
    known->trial = larger;
    known->room = room;
  }
  known->trial[known->count++] = *trial;
  return TAILVOLT_OK;
}

void tv_known_free(struct tv_known *known) {
  for (int k = 0; k < known->count; k++) tv_trial_clear(&known->trial[k]);
  free(known->trial);
  *known = (struct tv_known){0};
}

const struct tv_trial *tv_find_known(const struct tv_known *known, const struct tv_choice *choice) {
  for (int k = 0; k < known->count; k++)
    if (memcmp(&known->trial[k].choice, choice, sizeof *choice) == 0) return &known->trial[k];
  return NULL;
}
