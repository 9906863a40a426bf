/* Any bytes as a value with a unit: what is accepted is finite, and its written form reads back the same. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "input/quantity.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check_measure(const char *text, size_t length, enum tv_measure measure) {
  double value = -12345;
  enum tv_quantity_status status = tv_quantity_read(text, length, measure, &value);
  if (status != TV_QUANTITY_OK) {
    if (value > -12345 || value < -12345) abort();
    return;
  }
  if (!isfinite(value)) abort();
  /* beyond any physical size the unit's own factor may round */
  if (fabs(value) > 1e9 || (fabs(value) > 0 && fabs(value) < 1e-12)) return;
  char written[128];
  double again = 0;
  tv_quantity_write(written, sizeof written, value, measure, true);
  if (tv_quantity_read(written, strlen(written), measure, &again) != TV_QUANTITY_OK) abort();
  if (again < value || again > value) abort();
  tv_quantity_write(written, sizeof written, value, measure, false);
  if (tv_quantity_read(written, strlen(written), measure, &again) != TV_QUANTITY_OK) abort();
  if (fabs(again - value) > 1e-4 * fabs(value) + 1e-9) abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  char from[512], plain[512];
  if (size >= sizeof from) return 0;
  memcpy(from, data, size);
  from[size] = '\0';
  tv_plain_text(plain, sizeof plain, from);
  for (int measure = 0; measure < TV_MEASURES; measure++)
    check_measure(plain, strlen(plain), (enum tv_measure)measure);
  int awg = 0;
  if (tv_gauge_read(plain, &awg)) {
    char written[32];
    int again = 100;
    tv_gauge_write(written, sizeof written, awg);
    if (!tv_gauge_read(written, &again) || again != awg) abort();
  }
  return 0;
}
