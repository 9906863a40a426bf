/* Any bytes as a recording: refused with words, or read to numbers that a recording can have. */
#include <math.h>

#include "fuzz/as_file.h"
#include "input/recording.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void look(const char *path, const struct tv_recording_options *options) {
  struct tv_recording recording;
  char error[TAILVOLT_TEXT_MAX] = "";
  enum tailvolt_status status = tv_recording_read(path, options, &recording, error);
  if (status != TAILVOLT_OK) {
    if ((status != TAILVOLT_BAD_INPUT && status != TAILVOLT_NOT_READABLE && status != TAILVOLT_NO_MEMORY) ||
        (status != TAILVOLT_NO_MEMORY && error[0] == '\0'))
      abort();
    return;
  }
  if (recording.frames < 1 || !(recording.rate_hz >= 1) || recording.channels < 1 || recording.window_count < 1) abort();
  if (!(recording.whole.peak >= 0) || !(recording.whole.mean_square >= 0) || !isfinite(recording.whole.peak)) abort();
  for (long k = 0; k < recording.window_count; k++)
    if (!(recording.mean_square[k] >= 0) || !isfinite(recording.mean_square[k])) abort();
  tv_recording_free(&recording);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  const char *path = as_file(data, size);
  look(path, &(struct tv_recording_options){.window_s = 0.02});
  look(path, &(struct tv_recording_options){.window_s = 0.001, .below_hz = 80, .mono = true});
  unlink(path);
  return 0;
}
