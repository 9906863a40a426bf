/* Pictures of results: what was recorded, varied or reported, reduced to a few thousand numbers and put before a gnuplot
 * script. Nothing is run here: the text that is made is all that gnuplot needs. */
#ifndef TV_REPORT_PLOT_H
#define TV_REPORT_PLOT_H

#include "tailvolt/system.h"

enum tv_picture {
  TV_PICTURE_VOLTAGE,
  TV_PICTURE_CURRENTS,
  TV_PICTURE_CHARGE,
  TV_PICTURE_BEAT,
  TV_PICTURE_HISTOGRAM,
  TV_PICTURE_LEDGER,
  TV_PICTURE_LOOP,
  TV_PICTURE_CURVE,
  TV_PICTURE_FAMILY,
  TV_PICTURE_HEAT,
  TV_PICTURE_PLAYING,
  TV_PICTURE_ALTERNATOR,
  TV_PICTURES
};

/* Names as --picture takes them; NULL ends the list. */
extern const char *const tv_picture_names[TV_PICTURES + 1];

struct tv_plot_request {
  int path_count;
  const char *const *paths;
  int picture;           /* enum tv_picture; -1 = what suits the files */
  const char *amplifier; /* NULL = the first, or the one worst off */
  const char *quantity;  /* of a variation; NULL = the lowest voltage */
  const char *along;     /* key along the axis, or the end of its name; NULL = the one with most values */
  double from_s, to_s;   /* part of a record; NAN = all */
  const char *format;    /* svg, png, pdf */
  int width, height;     /* px */
};

/* Makes the whole text for gnuplot: settings, data, script; it writes to standard output. `error` says what is wrong, ready
 * for the user. Returns TAILVOLT_OK, _BAD_INPUT, _NOT_READABLE, _NO_MEMORY. */
TAILVOLT_CHECKED enum tailvolt_status tv_plot_make(const struct tv_plot_request *request, char **out,
                                                   char error[TAILVOLT_TEXT_MAX]);

#endif
