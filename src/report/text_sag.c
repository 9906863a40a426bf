/* Verdict by phase, the loop and the sag ledger as text. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/loop.h"
#include "text/number.h"
#include "report/text_parts.h"
#include "simulate/worst.h"
#include "text/words.h"

void tv_text_phases(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"phase", false, 0},     {"verdict", false, 0}, {"lasts", true, 0},    {"amplifier", false, 24},
      {"lowest V", true, 0},   {"at", true, 0},       {"1 % below V", true, 0}, {"wanted V", true, 0},
      {"below %", true, 0}};
  int order[TAILVOLT_PHASES], count = tv_phases_worst_first(run, order);
  struct tv_table table;
  tv_page_heading(page, "VERDICT BY PHASE, worst first");
  tv_table_begin(&table, page, columns, 9);
  for (int p = 0; p < count; p++) {
    for (int a = 0; a < run->amplifier_count; a++) {
      const struct tailvolt_amplifier_phase *in = &run->amplifiers[a].phase[order[p]];
      tv_table_cell(&table, a > 0 ? "" : tv_phase_word(order[p]));
      tv_table_cell(&table, a > 0 ? "" : tv_verdict_shout(run->phases[order[p]].status));
      tv_table_cell(&table, a > 0 ? "" : tv_duration(run->phases[order[p]].duration_s).text);
      tv_table_cell(&table, run->amplifiers[a].name);
      bool plays = in->play_s > 0.0;
      tv_table_cell(&table, plays ? tv_fixed(in->min_v, 2).text : "silent");
      tv_table_cell(&table, plays ? tv_clock(in->min_time_s).text : "");
      tv_table_cell(&table, plays ? tv_fixed(in->low_1pct_v, 2).text : "");
      tv_table_cell(&table, plays ? tv_fixed(in->target_v, 1).text : "");
      tv_table_cell(&table, plays ? tv_fixed(in->below_target_pct, 2).text : "");
    }
  }
  tv_table_end(&table, "  ");
  for (int k = 0; k < run->reason_count; k++) {
    const struct tailvolt_reason *reason = &run->reasons[k];
    char start[48];
    snprintf(start, sizeof start, "  %s %s", tv_verdict_word(reason->status),
             reason->phase < 0 ? "" : tv_phase_place(reason->phase));
    size_t length = strlen(start);
    while (length > 0 && start[length - 1] == ' ') start[--length] = '\0';
    snprintf(start + length, sizeof start - length, ": ");
    tv_page_wrapped(page, start, reason->text);
  }
}

enum { LOOP_NAME_MAX = 24, JOINT_WIDTH = 4 };

static size_t part_name(const struct tv_page *page, const struct tv_strip_part *part, char *to, size_t size) {
  tv_page_clean(page, to, size, part->name);
  tv_page_cut(to, LOOP_NAME_MAX);
  return tv_columns(to);
}

static size_t part_width(const struct tv_page *page, const struct tv_strip_part *part) {
  char name[TV_CELL_MAX];
  size_t wide = part_name(page, part, name, sizeof name), below = tv_columns(part->below);
  return wide > below ? wide : below;
}

/* One strip: names joined by lines, and beneath each name its value. */
static void print_strip(struct tv_page *page, const struct tv_strip_part *part, int from, int to, const char *first) {
  char name[TV_CELL_MAX];
  tv_page_add(page, first);
  for (int k = from; k < to; k++) {
    size_t wide = part_name(page, &part[k], name, sizeof name);
    if (part[k].marked) tv_page_colour(page, TV_RED);
    tv_buffer_add(&page->text, name);
    if (part[k].marked) tv_page_colour(page, TV_PLAIN);
    if (k + 1 == to) break;
    tv_page_add(page, " ");
    for (size_t pad = wide; pad < part_width(page, &part[k]); pad++) tv_page_add(page, "\u2500");
    tv_page_add(page, "\u2500\u2500 ");
  }
  tv_page_newline(page);
  /* nothing trails behind the last value */
  size_t blank = tv_columns(first);
  for (int k = from; k < to; k++) {
    if (part[k].below[0] != '\0') {
      tv_buffer_fill(&page->text, ' ', blank);
      blank = 0;
    }
    if (part[k].marked) tv_page_colour(page, TV_RED);
    tv_page_add(page, part[k].below);
    if (part[k].marked) tv_page_colour(page, TV_PLAIN);
    blank += part_width(page, &part[k]) - tv_columns(part[k].below) + JOINT_WIDTH;
  }
  tv_page_newline(page);
}

void tv_text_strip(struct tv_page *page, const struct tv_strip_part *part, int count, const char *first) {
  static const char again[] = "          \u2500 ";
  for (int from = 0; from < count;) {
    size_t at = tv_columns(first);
    int stop = from;
    while (stop < count) {
      size_t more = part_width(page, &part[stop]) + (stop > from ? JOINT_WIDTH : 0);
      if (stop > from && at + more > TV_PAGE_WIDTH) break;
      at += more;
      stop++;
    }
    print_strip(page, part, from, stop, first);
    from = stop;
    first = again;
  }
}

void tv_text_loop(struct tv_page *page, const struct tailvolt_ledger *ledger) {
  struct tv_loop loop;
  tv_loop_of(ledger, &loop);
  tv_page_heading(page, "THE LOOP of %s at its worst moment, %s: volts lost since rest, part by part",
                  ledger->amplifier, tv_clock(ledger->time_s).text);
  struct tv_strip_part strip[TV_LOOP_MAX];
  int split = 0;
  for (int k = 0; k < loop.count; k++) {
    const struct tv_loop_part *from = &loop.part[k];
    if (!from->ground_side) split = k + 1;
    strip[k] = (struct tv_strip_part){.name = from->name, .marked = from->worst};
    snprintf(strip[k].below, sizeof strip[k].below, "%s%s%s", tv_fixed(from->drop_v, 2).text,
             from->amplifier ? " V left" : "", from->worst ? " WORST" : "");
  }
  tv_text_strip(page, strip, split, "  feed    + ");
  tv_text_strip(page, strip + split, loop.count - split, "  return  - ");
}

/* A bar of at most `most` marks, its length in proportion. */
static void bar(char *to, size_t size, double share, int most) {
  int marks = (int)lround(fabs(share) * most);
  if (marks > most) marks = most;
  to[0] = '\0';
  for (int k = 0; k < marks; k++) {
    size_t length = strlen(to);
    snprintf(to + length, size - length, "%s", share < 0.0 ? "\u2212" : "\u2588");
  }
}

void tv_text_ledger(struct tv_page *page, const struct tailvolt_ledger *ledger) {
  static const struct tv_column columns[] = {{"part", false, 30},    {"what", false, 24},
                                             {"side", false, 0},     {"A", true, 0},
                                             {"V", true, 0},         {"share %", true, 0},
                                             {"", false, 0}};
  enum { BAR_MOST = 12 };
  char marks[4 * BAR_MOST];
  double most_v = 0.0;
  int worst = -1;
  for (int k = 0; k < ledger->entry_count; k++) {
    if (fabs(ledger->entries[k].drop_v) > most_v) most_v = fabs(ledger->entries[k].drop_v);
    if (worst < 0 || ledger->entries[k].drop_v > ledger->entries[worst].drop_v) worst = k;
  }
  tv_page_heading(page, "SAG LEDGER of %s: from %s V at rest to %s V at %s", ledger->amplifier,
                  tv_fixed(ledger->rest_v, 3).text, tv_fixed(ledger->terminal_v, 3).text,
                  tv_clock(ledger->time_s).text);
  struct tv_table table;
  tv_table_begin(&table, page, columns, 7);
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (k == worst) tv_table_mark(&table);
    char part[TAILVOLT_NAME_MAX + 16];
    tv_section_words(entry->part_kind, entry->name, part, sizeof part);
    tv_table_cell(&table, tv_entry_is_battery(entry) ? part : entry->name);
    tv_table_cell(&table, tv_drop_word(entry->drop, entry->part_kind));
    tv_table_cell(&table, tv_entry_is_battery(entry) ? "battery" : entry->ground_side ? "return" : "feed");
    tv_table_cell(&table, tv_fixed(entry->current_a, 1).text);
    tv_table_cell(&table, tv_fixed(entry->drop_v, 3).text);
    tv_table_cell(&table, tv_fixed(entry->share_pct, 1).text);
    bar(marks, sizeof marks, most_v > 0.0 ? entry->drop_v / most_v : 0.0, BAR_MOST);
    tv_table_cell(&table, marks);
  }
  tv_table_end(&table, "  ");
  double sag_v = ledger->rest_v - ledger->terminal_v;
  tv_page_line(page, "  sum %s V; residual %s uV (what the sum leaves unexplained)",
               tv_fixed(sag_v, 3).text, tv_scientific(ledger->residual_v * 1e6).text);
}
