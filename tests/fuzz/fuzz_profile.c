/* Any bytes as a load profile of a small fixed system. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "tailvolt/tailvolt.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char system_text[] =
    "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
    "[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n"
    "[load lights]\npower = 120 W\n[programme club]\ncrest factor = 9 dB\n";

/* Every row that comes out keeps what the header promises. */
static void read_rows(const struct tailvolt_profile *profile, const struct tailvolt_system *system) {
  struct tailvolt_profile_cursor *cursor = NULL;
  if (tailvolt_profile_open(profile, &cursor) != TAILVOLT_OK) abort();
  const struct tailvolt_row *row = NULL;
  double last_s = -HUGE_VAL;
  long rows = 0;
  for (;;) {
    if (tailvolt_profile_next(cursor, &row) != TAILVOLT_OK) abort();
    if (row == NULL) break;
    if (!(row->time_s > last_s) || !isfinite(row->time_s) || !(row->engine_rpm >= 0)) abort();
    for (int k = 0; k < system->load_count; k++)
      if (!(row->load_on[k] >= 0 && row->load_on[k] <= 1)) abort();
    last_s = row->time_s;
    rows++;
  }
  if (rows != tailvolt_profile_row_count(profile) || rows < 2) abort();
  tailvolt_profile_close(cursor);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  char *text = malloc(size + 1);
  if (text == NULL || faults == NULL) abort();
  memcpy(text, data, size);
  text[size] = '\0';
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_parse(system_text, "fixed.ini", NULL, 0, &system, faults) != TAILVOLT_OK) abort();
  struct tailvolt_profile *profile = NULL;
  enum tailvolt_status status = tailvolt_profile_parse(text, "fuzz.csv", system, &profile, faults);
  if (status == TAILVOLT_OK) {
    if (profile == NULL || faults->count != 0) abort();
    read_rows(profile, system);
  } else if (status != TAILVOLT_BAD_INPUT || faults->count < 1) {
    abort();
  }
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  free(text);
  free(faults);
  return 0;
}
