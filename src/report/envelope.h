/* The figures of a recording as text and JSON. */
#ifndef TV_REPORT_ENVELOPE_H
#define TV_REPORT_ENVELOPE_H

#include "tailvolt/envelope.h"

/* One amplifier that plays the recording. */
struct tv_envelope_player {
  const struct tailvolt_amplifier *amplifier;
  struct tailvolt_envelope_draw draw;
};

struct tv_envelope_report {
  const struct tailvolt_envelope *envelope;
  double level_db;
  int player_count;
  const struct tv_envelope_player *players;
  const char *written; /* file the envelope was written to, or NULL */
};

TAILVOLT_CHECKED enum tailvolt_status tv_envelope_text(const struct tv_envelope_report *report, char **out);
TAILVOLT_CHECKED enum tailvolt_status tv_envelope_json(const struct tv_envelope_report *report, char **out);

#endif
