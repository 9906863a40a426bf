/* Words for what a parked study found, shared by its reports. */
#ifndef TV_REPORT_PARKED_WORDS_H
#define TV_REPORT_PARKED_WORDS_H

#include <stddef.h>

#include "tailvolt/study.h"

/* "restart", "cut-out", "rest limit", "limit of 48 h": uses `room` where it must. */
const char *tv_parked_end_word(const struct tailvolt_parked *parked, char *room, size_t size);

/* Why every step was simulated; "" where it was not, or where that was requested. */
void tv_parked_full_reason(const struct tailvolt_parked *parked, char *text, size_t size);

/* One caution as a sentence without full stop. */
void tv_parked_caution_text(const struct tailvolt_parked *parked, enum tailvolt_parked_caution which, char *text,
                            size_t size);

#endif
