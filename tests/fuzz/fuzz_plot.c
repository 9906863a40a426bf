/* Any bytes as a file to draw, a table or JSON; the first two bytes choose the picture and a part of it. Refused with words, or a text
 * for the drawing program without a number that is none. */
#include <math.h>
#include <string.h>

#include "fuzz/as_file.h"
#include "report/plot.h"
#include "tailvolt/report.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (size < 2) return 0;
  const char *path = as_file(data + 2, size - 2), *paths[] = {path, path};
  struct tv_plot_request request = {.path_count = data[1] % 8 == 7 ? 2 : 1, .paths = paths, .picture = data[0] % (TV_PICTURES + 1) - 1,
                                    .from_s = data[1] & 16 ? 1.0 : (double)NAN, .to_s = data[1] & 32 ? 2.0 : (double)NAN,
                                    .format = "svg", .width = 900, .height = 540};
  char *text = NULL, error[TAILVOLT_TEXT_MAX] = "";
  enum tailvolt_status status = tv_plot_make(&request, &text, error);
  if (status == TAILVOLT_OK) {
    if (text == NULL || text[0] == '\0') abort();
  } else if (error[0] == '\0') {
    abort();
  }
  tailvolt_report_free(text);
  unlink(path);
  return 0;
}
