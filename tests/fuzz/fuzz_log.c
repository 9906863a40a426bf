/* Any bytes as a log of a small fixed system. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "tailvolt/tailvolt.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char system_text[] =
    "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
    "[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n"
    "[load lights]\npower = 120 W\n[programme club]\ncrest factor = 9 dB\n";

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  char *text = malloc(size + 1);
  if (text == NULL || faults == NULL) abort();
  memcpy(text, data, size);
  text[size] = '\0';
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_parse(system_text, "fixed.ini", NULL, 0, &system, faults) != TAILVOLT_OK) abort();
  struct tailvolt_log *log = NULL;
  enum tailvolt_status status = tailvolt_log_parse(text, "fuzz.csv", system, &log, faults);
  if (status == TAILVOLT_OK) {
    if (log == NULL || faults->count != 0 || tailvolt_log_column_count(log) < 1 || tailvolt_log_row_count(log) < 2) abort();
  } else if (status != TAILVOLT_BAD_INPUT || faults->count < 1) {
    abort();
  }
  tailvolt_log_free(log);
  tailvolt_system_free(system);
  free(text);
  free(faults);
  return 0;
}
