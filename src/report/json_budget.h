/* The budget by use and the hand budget as jansson trees. NULL where memory ran out. */
#ifndef TV_REPORT_JSON_BUDGET_H
#define TV_REPORT_JSON_BUDGET_H

#include <jansson.h>

#include "tailvolt/result.h"

/* Uses that occur, by name. */
json_t *tv_json_uses(const struct tailvolt_result *result);
/* The same by hand, and where the simulated balance differs; null without a system. */
json_t *tv_json_hand_budget(const struct tailvolt_system *system, const struct tailvolt_result *result);

#endif
