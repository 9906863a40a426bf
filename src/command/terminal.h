/* What the terminal can do. */
#ifndef TV_COMMAND_TERMINAL_H
#define TV_COMMAND_TERMINAL_H

#include "command/commands.h"
#include "tailvolt/report.h"

/* Style of text that goes to `out`: colour from --color, then NO_COLOR, TERM and whether `out` is a terminal;
 * UTF-8 from the locale's name. Prints and returns false on a bad option. */
bool tv_style_of(const struct tv_invocation *invocation, FILE *out, struct tailvolt_report_style *style);

#endif
