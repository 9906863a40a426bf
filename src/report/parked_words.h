/* Words for what a parked study found, shared by its reports. */
#ifndef TV_REPORT_PARKED_WORDS_H
#define TV_REPORT_PARKED_WORDS_H

#include <stddef.h>

#include "tailvolt/study.h"

/* "restart", "cut-out", "rest limit", "limit of 48 h": uses `room` where it must. */
const char *tv_parked_end_word(const struct tailvolt_parked *parked, char *room, size_t size);

/* Names are cut to so many bytes, so that they fit into a sentence. */
enum { TV_PARKED_NAME_SHOWN = 24 };

/* "the battery" where there is only one; else by name, or as the starting battery if it has none. */
void tv_parked_battery_words(const struct tailvolt_parked *parked, int battery, char *text, size_t size);

/* Why every step was simulated; "" where it was not, or where that was requested. */
void tv_parked_full_reason(const struct tailvolt_parked *parked, char *text, size_t size);

/* One caution as a sentence without full stop. */
void tv_parked_caution_text(const struct tailvolt_parked *parked, enum tailvolt_parked_caution which, char *text,
                            size_t size);

#endif
