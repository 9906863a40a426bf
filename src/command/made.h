/* What a report was made from, gathered while a command runs: its options, and the files that it reads. */
#ifndef TV_COMMAND_MADE_H
#define TV_COMMAND_MADE_H

#include "command/commands.h"
#include "report/made_from.h"

/* Notes the files that a run of the system reads; `compared` as in tv_made_programmes(). No output may overwrite them. False, with a
 * message where there is one to give, when out of memory or where a job taken from a report names a file that the report does not. */
bool tv_note_programmes(const struct tv_invocation *invocation, const struct tailvolt_system *system, bool compared);

/* The same of a system that may be refused: all that its text and settings name. False when out of memory. */
bool tv_note_named(const struct tv_invocation *invocation, const char *text, const char *path, const struct tailvolt_setting *settings,
                   int setting_count);
/* Files that a report names, held in it or not, wherever they are looked for. False when out of memory. */
bool tv_note_report(const struct tv_invocation *invocation, const struct tv_again *again);

/* What the runs ended in. Of a job taken from a report says whether that is what the report says. */
void tv_note_runs(const struct tv_invocation *invocation, struct tailvolt_result *const *runs, int count);

/* All of it, with the options that decide the result; `date` (may be NULL) stands for --date where that is not given. */
const struct tv_made_from *tv_made_of(const struct tv_invocation *invocation, const char *date);

enum { TV_AS_TEXT, TV_AS_JSON, TV_AS_CSV };
/* Adds it to a finished report; CSV stays as it is. `labelled`: the report ends in a paragraph with a label, and this is one more.
 * *text is replaced, NULL after a failure. */
TAILVOLT_CHECKED enum tailvolt_status tv_made_add(const struct tv_invocation *invocation, int format,
                                                  const struct tailvolt_report_style *style, bool labelled,
                                                  char **text);

#endif
