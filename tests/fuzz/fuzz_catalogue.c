/* Any bytes as a catalogue of remedies (first byte 'c') or as a price list: refused with words, or stocked with what can be bought. */
#include <math.h>

#include "fuzz/as_file.h"
#include "study/remedy_catalogue.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (size < 1) return 0;
  const char *path = as_file(data + 1, size - 1);
  struct tv_catalogue catalogue = {0};
  char error[TAILVOLT_TEXT_MAX] = "";
  bool whole = data[0] == 'c';
  enum tailvolt_status status = tv_catalogue_read(whole ? path : NULL, &catalogue, error);
  if (!whole && status != TAILVOLT_OK) abort();
  if (!whole) status = tv_catalogue_price(path, &catalogue, error);
  if (status == TAILVOLT_OK) {
    if (catalogue.count < 0 || catalogue.count > catalogue.room || !(catalogue.hour_cost >= 0) || !isfinite(catalogue.hour_cost)) abort();
    for (int k = 0; k < catalogue.count; k++)
      if (!(catalogue.item[k].cost >= 0) || !(catalogue.item[k].cost_per_m >= 0) || !(catalogue.item[k].effort_h >= 0)) abort();
    (void)tv_catalogue_work(&catalogue, TV_WORK_FUSE);
  } else if (status != TAILVOLT_BAD_INPUT || error[0] == '\0') {
    abort();
  }
  tv_catalogue_free(&catalogue);
  unlink(path);
  return 0;
}
