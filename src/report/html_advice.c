/* What to change and what it is worth: from the remedy search, or the one next step tried. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "report/html_parts.h"
#include "text/number.h"
#include "text/words.h"

enum { WORTH_MOST = 8 };

/* What to cut to length, or to order. */
static void leads(struct tv_buffer *page, const struct tailvolt_remedy_set *set) {
  if (set->lead_count == 0) return;
  tv_buffer_add(page, "<table class=\"keep\"><thead><tr><th>lead to lay</th><th>size</th><th class=\"n\">length m</th><th>in place of</th>"
                      "</tr></thead><tbody>\n");
  for (int k = 0; k < set->lead_count; k++) {
    const struct tailvolt_remedy_lead *lead = &set->leads[k];
    char text[TAILVOLT_NAME_MAX + 16];
    tv_section_words(lead->kind, lead->name, text, sizeof text);
    tv_buffer_add(page, "<tr>");
    tv_html_cell(page, text);
    tv_html_cell(page, lead->size);
    tv_html_number_cell(page, lead->length_m, 1);
    tv_html_cell(page, lead->added ? "new" : lead->before[0] != '\0' ? lead->before : "-");
    tv_buffer_add(page, "</tr>\n");
  }
  tv_buffer_add(page, "</tbody></table>\n");
}

/* What to set, and what to watch for. */
static void chosen(struct tv_buffer *page, const struct tailvolt_remedy *remedy, bool us_units) {
  const struct tailvolt_remedy_set *set = &remedy->chosen;
  if (!remedy->found || set->change_count == 0) return;
  leads(page, set);
  tv_buffer_add(page, "<p>The remedy as settings of the system file:</p>\n<ul class=\"tight columns\">");
  for (int k = 0; k < set->change_count; k++) {
    tv_buffer_add(page, "<li>");
    tv_html_text(page, set->changes[k].key);
    tv_buffer_add(page, " = ");
    tv_html_text(page, set->changes[k].value);
    tv_buffer_add(page, "</li>\n");
  }
  tv_buffer_add(page, "</ul>\n");
  if (set->caution_count > 0) tv_buffer_add(page, "<p>Watch out for:</p>\n<ul class=\"tight\">");
  for (int k = 0; k < set->caution_count; k++) {
    tv_buffer_add(page, "<li>");
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_remedy_caution_text(&set->cautions[k], us_units, text, sizeof text);
    tv_html_text(page, text);
    tv_buffer_add(page, "</li>\n");
  }
  if (set->caution_count > 0) tv_buffer_add(page, "</ul>\n");
}

static int by_gain(const void *a, const void *b) {
  const struct tailvolt_worth *const *one = a, *const *other = b;
  if ((*one)->meets != (*other)->meets) return (*one)->meets ? -1 : 1;
  return ((*one)->gain_v < (*other)->gain_v) - ((*one)->gain_v > (*other)->gain_v);
}

/* The best of each kind of cure. */
static void worths(struct tv_buffer *page, const struct tailvolt_remedy *remedy) {
  const struct tailvolt_worth *best[TAILVOLT_CURES] = {NULL};
  int count = 0;
  for (int k = 0; k < remedy->worth_count; k++) {
    const struct tailvolt_worth *worth = &remedy->worth[k];
    int at = 0;
    while (at < count && best[at]->cure != worth->cure) at++;
    if (at == count)
      best[count++] = worth;
    else if (by_gain(&worth, &best[at]) < 0)
      best[at] = worth;
  }
  if (count == 0) return;
  qsort(best, (size_t)count, sizeof best[0], by_gain);
  tv_buffer_add(page, "<table><thead><tr><th>alone</th><th class=\"n\">gain V</th><th class=\"n\">then "
                      "below, % of time</th><th>enough</th>"
                      "</tr></thead><tbody>\n");
  for (int k = 0; k < count && k < WORTH_MOST; k++) {
    tv_buffer_add(page, "<tr>");
    tv_html_cell(page, best[k]->what);
    tv_html_number_cell(page, best[k]->gain_v, 2);
    tv_html_number_cell(page, best[k]->below_pct, 1);
    tv_html_add(page, "<td>%s</td></tr>\n", best[k]->meets ? "yes" : "no");
  }
  tv_buffer_add(page, "</tbody></table>\n");
}

static void answers(struct tv_buffer *page, const struct tailvolt_remedy *remedy) {
  tv_buffer_add(page, "<ul class=\"tight\">");
  for (int k = 0; k < TAILVOLT_ANSWERS; k++) {
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_answer_text(&remedy->answers[k], text, sizeof text);
    tv_buffer_add(page, "<li>");
    tv_html_capital(page, text);
    tv_buffer_add(page, "</li>\n");
  }
  tv_buffer_add(page, "</ul>\n");
}

void tv_html_advice(struct tv_buffer *page, const struct tv_html_run *run, bool us_units) {
  if (run->remedy == NULL || (run->remedy->found && run->remedy->chosen.change_count == 0)) return;
  tv_buffer_add(page, "<section><h2>What each change is worth</h2>\n");
  chosen(page, run->remedy, us_units);
  tv_buffer_add(page, "<div class=\"pair keep\"><div>");
  worths(page, run->remedy);
  tv_buffer_add(page, "</div>\n<div>");
  answers(page, run->remedy);
  tv_buffer_add(page, "</div></div>\n</section>\n");
}
