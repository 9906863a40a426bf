/* Verdict by phase, the feed path and the sag ledger as text. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/feed_drops.h"
#include "text/number.h"
#include "report/text_parts.h"
#include "simulate/worst.h"
#include "text/words.h"

void tv_text_phases(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"phase", false, 0},     {"verdict", false, 0}, {"lasts", true, 0},    {"amplifier", false, 24},
      {"lowest V", true, 0},   {"at", true, 0},       {"1 % V", true, 0}, {"wanted", true, 0},
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
  for (int a = 0; a < run->amplifier_count; a++) {
    if (!(run->amplifiers[a].start_min_v < run->amplifiers[a].min_v)) continue;
    char text[TAILVOLT_TEXT_MAX];
    snprintf(text, sizeof text, "%s V while the engine is started; for those seconds the parked target applies",
             tv_fixed(run->amplifiers[a].start_min_v, 2).text);
    char start[TAILVOLT_NAME_MAX + 8];
    snprintf(start, sizeof start, "  %s: ", run->amplifiers[a].name);
    tv_page_wrapped(page, start, text);
  }
}

void tv_text_reasons(struct tv_page *page, const struct tailvolt_result *run, bool all) {
  int safety = 0;
  for (int k = 0; k < run->reason_count; k++) safety += run->reasons[k].topic == TAILVOLT_ABOUT_SAFETY;
  if (all ? run->reason_count == 0 : safety < 2) return;
  tv_page_heading(page, all ? "REASONS" : "SAFETY in full");
  for (int k = 0; k < run->reason_count; k++) {
    const struct tailvolt_reason *reason = &run->reasons[k];
    if (!all && reason->topic != TAILVOLT_ABOUT_SAFETY) continue;
    char start[48];
    snprintf(start, sizeof start, "  %s %s", tv_verdict_word(reason->status),
             reason->phase < 0 ? "" : tv_phase_place(reason->phase));
    size_t length = strlen(start);
    while (length > 0 && start[length - 1] == ' ') start[--length] = '\0';
    snprintf(start + length, sizeof start - length, ": ");
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_reason_text(reason, page->style.us_units, text, sizeof text);
    tv_page_wrapped(page, start, text);
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

/* One strip: names joined by lines, each name's value beneath it. */
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
  /* nothing after the last value */
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
      if (stop > from && at + more > tv_page_columns(page)) break;
      at += more;
      stop++;
    }
    print_strip(page, part, from, stop, first);
    from = stop;
    first = again;
  }
}

void tv_text_feed_path(struct tv_page *page, const struct tailvolt_ledger *ledger, bool several) {
  struct tv_feed_drops drops;
  tv_feed_drops_of(ledger, several, &drops);
  tv_page_heading(page, "FEED PATH of %s at its worst moment, %s: volts lost since rest",
                  ledger->amplifier, tv_clock(ledger->time_s).text);
  struct tv_strip_part strip[TV_FEED_DROPS_MAX];
  int split = 0;
  for (int k = 0; k < drops.count; k++) {
    const struct tv_feed_drop *from = &drops.part[k];
    if (!from->ground_side) split = k + 1;
    strip[k] = (struct tv_strip_part){.name = from->name, .marked = from->worst};
    snprintf(strip[k].below, sizeof strip[k].below, "%s%s%s", tv_fixed(from->drop_v, 2).text,
             from->amplifier ? " V left" : "", from->worst ? " WORST" : "");
  }
  tv_text_strip(page, strip, split, "  feed    + ");
  tv_text_strip(page, strip + split, drops.count - split, "  return  - ");
}

/* A bar of at most `most` marks, its length proportional. */
static void bar(char *to, size_t size, double share, int most) {
  int marks = (int)lround(fabs(share) * most);
  if (marks > most) marks = most;
  to[0] = '\0';
  for (int k = 0; k < marks; k++) {
    size_t length = strlen(to);
    snprintf(to + length, size - length, "%s", share < 0.0 ? "\u2212" : "\u2588");
  }
}

/* A row of the ledger as shown: a battery's entries of one sort are merged, and in the short report the small ones too. */
struct row {
  char part[TAILVOLT_NAME_MAX + 64];
  const char *side;
  double current_a, drop_v, share_pct;
};

static const char *said_drop(const struct tailvolt_ledger_entry *entry) {
  if (entry->drop == TAILVOLT_DROP_POLARIZATION) return "surface charge and recovery";
  return tv_drop_word(entry->drop, entry->part_kind);
}

static int gather_rows(const struct tailvolt_ledger *ledger, double least_v, struct row *rows) {
  int count = 0, small = 0;
  struct row others = {.side = "", .current_a = (double)NAN};
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    struct row row = {.side = tv_entry_is_battery(entry) ? "battery" : entry->ground_side ? "return" : "feed",
                      .current_a = entry->current_a, .drop_v = entry->drop_v, .share_pct = entry->share_pct};
    if (tv_entry_is_battery(entry)) snprintf(row.part, sizeof row.part, "%s", said_drop(entry));
    else tv_part_spoken(entry->part_kind, entry->name, row.part, sizeof row.part);
    if (k > 0 && entry->drop == TAILVOLT_DROP_POLARIZATION && ledger->entries[k - 1].drop == entry->drop && count > 0) {
      rows[count - 1].drop_v += row.drop_v;
      rows[count - 1].share_pct += row.share_pct;
    } else if (count < TV_FEED_DROPS_MAX) {
      rows[count++] = row;
    }
  }
  int kept = 0;
  for (int k = 0; k < count; k++) {
    if (fabs(rows[k].drop_v) >= least_v) {
      rows[kept++] = rows[k];
      continue;
    }
    small++;
    others.drop_v += rows[k].drop_v;
    others.share_pct += rows[k].share_pct;
  }
  if (small > 0) {
    snprintf(others.part, sizeof others.part, "%d smaller", small);
    rows[kept++] = others;
  }
  return kept;
}

void tv_text_ledger(struct tv_page *page, const struct tailvolt_ledger *ledger) {
  static const struct tv_column columns[] = {{"part", false, 34},    {"side", false, 0},     {"A", true, 0},
                                             {"V", true, 0},         {"share %", true, 0},
                                             {"", false, 0}};
  bool details = page->style.details;
  const int bar_most = details ? 12 : 8;
  char marks[64];
  struct row rows[TV_FEED_DROPS_MAX + 1];
  int count = gather_rows(ledger, details ? 0.0 : fmax(0.02, 0.02 * (ledger->rest_v - ledger->terminal_v)), rows), worst = 0;
  for (int k = 1; k < count; k++)
    if (rows[k].drop_v > rows[worst].drop_v) worst = k;
  double most_v = 0.0;
  for (int k = 0; k < count; k++) most_v = fmax(most_v, fabs(rows[k].drop_v));
  tv_page_heading(page, "SAG LEDGER of %s: from %s V at rest to %s V at %s", ledger->amplifier,
                  tv_fixed(ledger->rest_v, 2).text, tv_fixed(ledger->terminal_v, 2).text,
                  tv_clock(ledger->time_s).text);
  struct tv_table table;
  tv_table_begin(&table, page, columns, 6);
  for (int k = 0; k < count; k++) {
    if (k == worst) tv_table_mark(&table);
    tv_table_cell(&table, rows[k].part);
    tv_table_cell(&table, rows[k].side);
    tv_table_cell(&table, isnan(rows[k].current_a) ? "" : tv_fixed(rows[k].current_a, 1).text);
    tv_table_cell(&table, tv_fixed(rows[k].drop_v, details ? 3 : 2).text);
    tv_table_cell(&table, tv_fixed(rows[k].share_pct, details ? 1 : 0).text);
    bar(marks, sizeof marks, most_v > 0.0 ? rows[k].drop_v / most_v : 0.0, bar_most);
    tv_table_cell(&table, marks);
  }
  tv_table_end(&table, "  ");
  double sag_v = ledger->rest_v - ledger->terminal_v;
  if (details)
    tv_page_line(page, "  sum %s V; residual %s uV (what the sum leaves unexplained)",
                 tv_fixed(sag_v, 3).text, tv_scientific(ledger->residual_v * 1e6).text);
}
