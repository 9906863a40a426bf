/* Shared by the parts of the page. */
#ifndef TV_REPORT_HTML_PARTS_H
#define TV_REPORT_HTML_PARTS_H

#include "text/buffer.h"
#include "report/html_report.h"

/* Text between tags: HTML's own characters are escaped, bytes that are not UTF-8 become question marks. */
void tv_html_text(struct tv_buffer *page, const char *text);

/* The same, starting with a capital. */
void tv_html_capital(struct tv_buffer *page, const char *text);

/* Markup, printf-formatted; never pass the user's own text. */
void tv_html_add(struct tv_buffer *page, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

/* <td>text</td>, as numbers (aligned right) or words. */
void tv_html_cell(struct tv_buffer *page, const char *text);
void tv_html_number_cell(struct tv_buffer *page, double value, int digits);

/* What the page was made from: a line to be read, and all of it in a block that no browser runs or shows. */
void tv_html_made_from(struct tv_buffer *page, const struct tv_made_from *made);

extern const char *const tv_html_style[]; /* lines of the style sheet, NULL at the end */

/* Pictures. `amplifier` is an index into the trace. */
void tv_html_voltage(struct tv_buffer *page, const struct tv_trace *trace, int amplifier, const char *name);
void tv_html_beat(struct tv_buffer *page, const struct tv_trace *trace, int amplifier, const char *name);
void tv_html_currents(struct tv_buffer *page, const struct tv_trace *trace);

/* Charge over the evening, with the limits that end it. */
void tv_html_charge_curve(struct tv_buffer *page, const struct tailvolt_parked *evening);

/* Page one. */
/* `evening` may be NULL. */
void tv_html_change(struct tv_buffer *page, const struct tv_html_run *run, const struct tailvolt_parked *evening);
void tv_html_evening(struct tv_buffer *page, const struct tailvolt_parked *evening);
void tv_html_granted(struct tv_buffer *page, const struct tailvolt_system *system, bool us_units);
void tv_html_compare(struct tv_buffer *page, const struct tv_html_report *report);
void tv_html_always(struct tv_buffer *page); /* cautions that apply to every job */
void tv_html_signature(struct tv_buffer *page);

/* Sections. */
void tv_html_feed_path(struct tv_buffer *page, const struct tailvolt_ledger *ledger, bool several);
void tv_html_ledger(struct tv_buffer *page, const struct tailvolt_ledger *ledger, bool several);
void tv_html_phases(struct tv_buffer *page, const struct tailvolt_result *run);
void tv_html_advice(struct tv_buffer *page, const struct tv_html_run *run, bool us_units);
void tv_html_cables(struct tv_buffer *page, const struct tailvolt_system *system,
                    const struct tailvolt_result *run, bool us_units);
void tv_html_fuses(struct tv_buffer *page, const struct tailvolt_result *run);
void tv_html_measure(struct tv_buffer *page, const struct tailvolt_result *run);
void tv_html_cautions(struct tv_buffer *page, const struct tv_html_run *runs, int run_count, bool us_units);
void tv_html_assumed(struct tv_buffer *page, const struct tailvolt_system *system, bool us_units);

#endif
