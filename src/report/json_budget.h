/* The budget by use and the one by hand as jansson trees. NULL where memory ran out. */
#ifndef TV_REPORT_JSON_BUDGET_H
#define TV_REPORT_JSON_BUDGET_H

#include <jansson.h>

#include "tailvolt/result.h"

/* Uses that occur, by name. */
json_t *tv_json_uses(const struct tailvolt_result *result);
/* The same by hand, with what the simulated balance differs by; null without a system. */
json_t *tv_json_hand_budget(const struct tailvolt_system *system, const struct tailvolt_result *result);

#endif
