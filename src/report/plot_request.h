/* What kind of picture is wanted. */
#ifndef TV_REPORT_PLOT_REQUEST_H
#define TV_REPORT_PLOT_REQUEST_H

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
  TV_PICTURE_EVENING,
  TV_PICTURE_EVENINGS,
  TV_PICTURE_OVERLAY,
  TV_PICTURE_COMPARE,
  TV_PICTURE_PROFILE,
  TV_PICTURE_ENVELOPE,
  TV_PICTURE_MEASURED,
  TV_PICTURES
};

/* Names as --picture takes them; NULL ends the list. */
extern const char *const tv_picture_names[TV_PICTURES + 1];

struct tv_plot_request {
  int path_count;
  const char *const *paths;
  int picture;           /* enum tv_picture; -1 = whatever suits the files */
  const char *amplifier; /* NULL = the first, or the worst */
  const char *quantity;  /* for a variation; NULL = the lowest voltage */
  const char *along;     /* key along the axis, or the end of its name; NULL = the one with the most values */
  double from_s, to_s;   /* part of a record; NAN = all */
  const char *format;    /* svg, png, pdf */
  int width, height;     /* px */
};

#endif
