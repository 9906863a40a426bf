/* The public side of the quantity reader. */
#include "tailvolt/quantity.h"

#include <string.h>

#include "input/quantity.h"

static enum tv_measure inside(enum tailvolt_measure measure) {
  static const enum tv_measure measures[] = {TV_VOLTAGE, TV_CURRENT,     TV_RESISTANCE, TV_POWER, TV_TIME,  TV_LENGTH,
                                             TV_TEMPERATURE, TV_CHARGE, TV_SPEED,      TV_SHARE, TV_LEVEL, TV_FREQUENCY};
  return measures[measure];
}

enum tailvolt_status tailvolt_quantity_read(const char *text, enum tailvolt_measure measure, double *value) {
  char plain[128];
  if (strlen(text) >= sizeof plain) return TAILVOLT_BAD_INPUT;
  tv_plain_text(plain, sizeof plain, text);
  bool read = tv_quantity_read(plain, strlen(plain), inside(measure), value) == TV_QUANTITY_OK;
  return read ? TAILVOLT_OK : TAILVOLT_BAD_INPUT;
}

void tailvolt_quantity_write(double value, enum tailvolt_measure measure, char *to, size_t size) {
  tv_quantity_write(to, size, value, inside(measure), false);
}

const char *tailvolt_measure_units(enum tailvolt_measure measure) { return tv_measure_units(inside(measure)); }
