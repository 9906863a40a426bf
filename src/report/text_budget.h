/* The budget by use of the vehicle, and beside it the hand budget. */
#ifndef TV_REPORT_TEXT_BUDGET_H
#define TV_REPORT_TEXT_BUDGET_H

#include "report/page.h"
#include "tailvolt/result.h"

void tv_text_uses(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_result *run);

#endif
