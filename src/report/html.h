/* The page to hand over: one self-contained HTML file with its pictures inline, no script, nothing fetched. It prints on two
 * A4 pages and reads well on a phone. */
#ifndef TV_REPORT_HTML_H
#define TV_REPORT_HTML_H

#include "report/html_report.h"

TAILVOLT_CHECKED enum tailvolt_status tv_html(const struct tv_html_report *report, char **out);

#endif
