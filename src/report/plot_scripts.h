/* The gnuplot scripts of plots/, built in: see plots/embed.cmake. */
#ifndef TV_REPORT_PLOT_SCRIPTS_H
#define TV_REPORT_PLOT_SCRIPTS_H

struct tv_built_in_plot {
  const char *name; /* of the picture; "common" precedes each; NULL ends the list */
  const unsigned char *text;
};
extern const struct tv_built_in_plot tv_built_in_plots[];

#endif
