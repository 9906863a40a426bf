/* The sections of the text report, each printing itself onto a page. */
#ifndef TV_REPORT_TEXT_PARTS_H
#define TV_REPORT_TEXT_PARTS_H

#include "report/page.h"
#include "tailvolt/result.h"

void tv_text_phases(struct tv_page *page, const struct tailvolt_result *run);
/* Every reason, or just the safety ones where the first screen cannot hold them. */
void tv_text_reasons(struct tv_page *page, const struct tailvolt_result *run, bool all);
/* Parts in a row, joined by lines, each with a value beneath; wrapped onto as many lines as needed. */
struct tv_strip_part {
  const char *name;
  char below[64];
  bool marked; /* red */
};
void tv_text_strip(struct tv_page *page, const struct tv_strip_part *part, int count, const char *first);

/* `several`: the car has other batteries too. */
void tv_text_feed_path(struct tv_page *page, const struct tailvolt_ledger *ledger, bool several);
void tv_text_ledger(struct tv_page *page, const struct tailvolt_ledger *ledger);
void tv_text_budget(struct tv_page *page, const struct tailvolt_result *run);
void tv_text_amplifiers(struct tv_page *page, const struct tailvolt_result *run);
void tv_text_supply(struct tv_page *page, const struct tailvolt_result *run);
void tv_text_conductors(struct tv_page *page, const struct tailvolt_system *system,
                        const struct tailvolt_result *run);
void tv_text_fuses(struct tv_page *page, const struct tailvolt_result *run);
void tv_text_meters(struct tv_page *page, const struct tailvolt_result *run);
void tv_text_energy(struct tv_page *page, const struct tailvolt_result *run);
/* For one amplifier, -1 = for each. */
void tv_text_measure(struct tv_page *page, const struct tailvolt_result *run, int amplifier);
/* `all`: including those already on the first screen; `fuses`: also those to be fitted. */
void tv_text_cautions(struct tv_page *page, const struct tailvolt_result *run, bool all, bool fuses);
/* What the wiring alone says about safety. */
void tv_text_wiring_safety(struct tv_page *page, const struct tailvolt_finding *findings, int count);
void tv_text_assumed(struct tv_page *page, const struct tailvolt_system *system);
/* Whether tailvolt_report_text() ends in the few that matter most, a paragraph with a label. */
bool tv_text_ends_assumed(const struct tailvolt_system *system, const struct tailvolt_report_style *style);
/* The few that matter most, as one sentence. */
void tv_text_assumed_briefly(struct tv_page *page, const struct tailvolt_system *system);
void tv_text_checklist(struct tv_page *page);

#endif
