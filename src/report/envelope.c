/* Envelopes as CSV. */
#include "report/buffer.h"
#include "report/number.h"
#include "tailvolt/envelope.h"

static void row(struct tv_buffer *buffer, double time_s, double share_frac) {
  /* steps of a nanosecond and of 1e-9 of the rated power are finer than anything heard or measured */
  tv_buffer_add(buffer, tv_compact(time_s, 9).text);
  tv_buffer_add(buffer, ",");
  tv_buffer_add(buffer, tv_compact(share_frac, 9).text);
  tv_buffer_add(buffer, "\n");
}

enum tailvolt_status tailvolt_envelope_csv(const struct tailvolt_envelope *envelope, char **out) {
  struct tv_buffer buffer = {0};
  double last_frac = 0.0;
  tv_buffer_add(&buffer, "time_s,share\n");
  for (long k = 0; k < envelope->window_count; k++) {
    last_frac = envelope->share_frac[k];
    row(&buffer, (double)k * envelope->window_s, last_frac);
  }
  row(&buffer, envelope->duration_s, last_frac);
  return tv_buffer_finish(&buffer, out);
}
