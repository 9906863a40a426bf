/* Pictures of results: what was recorded, varied or reported, reduced to a few thousand numbers and placed before a
 * gnuplot script. Nothing is run here: the text produced is all that gnuplot needs. */
#ifndef TV_REPORT_PLOT_H
#define TV_REPORT_PLOT_H

#include "report/plot_request.h"
#include "tailvolt/system.h"

/* Makes the whole text for gnuplot: settings, data, script; it writes to standard output. `error` says what is wrong, ready
 * for the user. Returns TAILVOLT_OK, _BAD_INPUT, _NOT_READABLE, _NO_MEMORY. */
TAILVOLT_CHECKED enum tailvolt_status tv_plot_make(const struct tv_plot_request *request, char **out,
                                                   char error[TAILVOLT_TEXT_MAX]);

#endif
