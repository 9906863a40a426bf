/* Any bytes as a system file: never a crash, a leak or a silent refusal. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "tailvolt/tailvolt.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  char *text = malloc(size + 1);
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (text == NULL || faults == NULL) abort();
  memcpy(text, data, size);
  text[size] = '\0';
  struct tailvolt_system *system = NULL;
  enum tailvolt_status status = tailvolt_system_parse(text, "fuzz.ini", NULL, 0, &system, faults);
  if (status == TAILVOLT_OK) {
    if (system == NULL || faults->count != 0) abort();
    /* what was read can be run: every named point exists */
    for (int k = 0; k < system->conductor_count; k++) {
      const struct tailvolt_conductor *conductor = &system->conductors[k];
      if (conductor->from < 0 || conductor->from >= system->point_count) abort();
      if (conductor->to < 0 || conductor->to >= system->point_count) abort();
      if (!(conductor->resistance_ohm >= 0)) abort();
    }
  } else if (status == TAILVOLT_BAD_INPUT) {
    /* a refusal says why */
    if (faults->count < 1 || faults->fault[0].message[0] == '\0') abort();
  } else {
    abort();
  }
  tailvolt_system_free(system);
  free(faults);
  free(text);
  return 0;
}
