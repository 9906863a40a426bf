/* Results as jansson trees, for reports that build larger documents around them. Each function
 * returns NULL only where memory ran out. */
#ifndef TV_REPORT_JSON_H
#define TV_REPORT_JSON_H

#include <jansson.h>

#include "tailvolt/result.h"

json_t *tv_json_result(const struct tailvolt_system *system, const struct tailvolt_result *result);
json_t *tv_json_amplifiers(const struct tailvolt_result *result);
json_t *tv_json_batteries(const struct tailvolt_result *result);
/* An array of {"status", "text"}. */
json_t *tv_json_findings(const struct tailvolt_finding *findings, int count);
json_t *tv_json_assumed(const struct tailvolt_system *system);
json_t *tv_json_faults(const struct tailvolt_faults *faults);

/* The text of a whole document; takes ownership of `root`. */
TAILVOLT_CHECKED enum tailvolt_status tv_json_finish(json_t *root, char **out);

#endif
