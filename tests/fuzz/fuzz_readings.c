/* Any bytes as readings taken at a small fixed system. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "tailvolt/tailvolt.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char system_text[] =
    "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
    "[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  static struct tailvolt_system *system;
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  char *text = malloc(size + 1);
  if (text == NULL || faults == NULL) abort();
  if (system == NULL && tailvolt_system_parse(system_text, "fixed.ini", NULL, 0, &system, faults) != TAILVOLT_OK) abort();
  memcpy(text, data, size);
  text[size] = '\0';
  struct tailvolt_reading_taken *taken = NULL;
  int count = 0;
  enum tailvolt_status status = tailvolt_readings_parse(text, "fuzz.csv", system, &taken, &count, faults);
  if (status == TAILVOLT_OK) {
    if (taken == NULL || count < 1 || faults->count != 0) abort();
    /* a reading's own name reads back as the same one */
    for (int k = 0; k < count; k++) {
      struct tailvolt_probe again;
      char name[4 * TAILVOLT_TEXT_MAX], error[TAILVOLT_TEXT_MAX];
      tailvolt_probe_write(system, &taken[k].probe, name, sizeof name);
      if (tailvolt_probe_read(system, name, &again, error) != TAILVOLT_OK ||
          again.condition != taken[k].probe.condition)
        abort();
    }
  } else if ((status != TAILVOLT_BAD_INPUT && status != TAILVOLT_NOT_READABLE) || faults->count < 1) {
    abort();
  }
  free(taken);
  free(text);
  free(faults);
  return 0;
}
