/* Pictures drawn from the JSON of results: the sag ledger as a waterfall, the feed path; several side by side. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/feed_drops.h"
#include "text/number.h"
#include "text/words.h"
#include "report/json_write.h"
#include "report/plot_parts.h"

static bool has_several(const json_t *result) { return json_array_size(json_object_get(result, "batteries")) > 1; }

/* The ledger of the requested amplifier, else the one with the greatest sag. */
static const json_t *ledger_of(const json_t *result, const char *amplifier) {
  const json_t *list = json_object_get(result, "sag_ledger"), *best = NULL;
  double most_v = -HUGE_VAL;
  for (size_t k = 0; k < json_array_size(list); k++) {
    const json_t *each = json_array_get(list, k);
    double sag_v = tv_json_number_of(each, "rest_v") - tv_json_number_of(each, "terminal_v");
    bool chosen = amplifier != NULL ? strcmp(tv_json_text_of(each, "amplifier"), amplifier) == 0 : sag_v > most_v;
    if (!chosen) continue;
    most_v = sag_v;
    best = each;
  }
  return best;
}

/* As the simulation had it, for the code that draws the feed path in text and on the page. */
static void read_ledger(const json_t *from, struct tailvolt_ledger *ledger,
                        struct tailvolt_ledger_entry *entries, int most) {
  const json_t *list = json_object_get(from, "entries");
  *ledger = (struct tailvolt_ledger){.entries = entries,
                                     .time_s = tv_json_number_of(from, "time_s"),
                                     .rest_v = tv_json_number_of(from, "rest_v"),
                                     .terminal_v = tv_json_number_of(from, "terminal_v")};
  snprintf(ledger->amplifier, sizeof ledger->amplifier, "%s", tv_json_text_of(from, "amplifier"));
  for (size_t k = 0; k < json_array_size(list) && ledger->entry_count < most; k++) {
    const json_t *each = json_array_get(list, k);
    struct tailvolt_ledger_entry *entry = &entries[ledger->entry_count++];
    *entry =
        (struct tailvolt_ledger_entry){.current_a = tv_json_number_of(each, "current_a"),
                                       .drop_v = tv_json_number_of(each, "drop_v"),
                                       .share_pct = tv_json_number_of(each, "share_pct"),
                                       .ground_side = json_is_true(json_object_get(each, "ground_side"))};
    tv_drop_of_word(tv_json_text_of(each, "kind"), &entry->drop, &entry->part_kind);
    snprintf(entry->name, sizeof entry->name, "%s", tv_json_text_of(each, "name"));
  }
}

static void waterfall_row(struct tv_plot *plot, int row, double before_v, double after_v, const char *label,
                          bool worst) {
  char volts[64];
  double drop_v = before_v - after_v;
  snprintf(volts, sizeof volts, "%s%s V%s", drop_v < -0.0005 ? "+" : "", tv_fixed(fabs(drop_v), 2).text,
           worst ? " WORST" : "");
  tv_plot_cell(plot, row);
  tv_plot_cell(plot, before_v);
  tv_plot_cell(plot, after_v);
  tv_plot_cell_text(plot, label);
  tv_plot_cell_text(plot, volts);
  tv_plot_cell(plot, worst);
  tv_plot_row(plot);
}

static void waterfall_end(struct tv_plot *plot, int row, double volts, const char *label) {
  char text[64];
  snprintf(text, sizeof text, "%s V", tv_fixed(volts, 2).text);
  tv_plot_cell(plot, row);
  tv_plot_cell(plot, volts);
  tv_plot_cell(plot, volts);
  tv_plot_cell_text(plot, label);
  tv_plot_cell_text(plot, text);
  tv_plot_cell(plot, 0);
  tv_plot_row(plot);
}

enum { ROWS_MAX = 14 };

static void make_waterfall(struct tv_plot *plot, const struct tv_feed_drops *drops,
                           const struct tailvolt_ledger *ledger) {
  char label[TAILVOLT_NAME_MAX + 80];
  double now_v = ledger->rest_v, rest_v = 0.0, low_v = fmin(ledger->rest_v, ledger->terminal_v),
         high_v = ledger->rest_v;
  double least_v = 0.0;
  int row = 1, hidden = 0, shown = 0;
  const struct tv_feed_drop *worst = NULL;
  /* where there are many, the small ones are merged */
  for (int pass = 0; pass < 40; pass++) {
    shown = 0;
    for (int k = 0; k < drops->count; k++)
      shown += !drops->part[k].amplifier && fabs(drops->part[k].drop_v) >= least_v;
    if (shown <= ROWS_MAX - 3) break;
    least_v += 0.005;
  }
  waterfall_end(plot, 0, ledger->rest_v, "at rest");
  for (int k = 0; k < drops->count; k++) {
    const struct tv_feed_drop *part = &drops->part[k];
    if (part->worst) worst = part;
    if (part->amplifier) continue;
    if (fabs(part->drop_v) < least_v) {
      rest_v += part->drop_v;
      hidden++;
      continue;
    }
    snprintf(label, sizeof label, "%.26s%s", part->name, part->ground_side ? " (return)" : "");
    waterfall_row(plot, row++, now_v, now_v - part->drop_v, label, part->worst);
    now_v -= part->drop_v;
    low_v = fmin(low_v, now_v);
    high_v = fmax(high_v, now_v);
  }
  if (hidden > 0) {
    snprintf(label, sizeof label, "%d small parts", hidden);
    waterfall_row(plot, row++, now_v, now_v - rest_v, label, false);
  }
  waterfall_end(plot, row++, ledger->terminal_v, "at the worst moment");
  double margin_v = 0.06 * (high_v - low_v) + 0.01;
  tv_plot_set_number(plot, "count", row);
  tv_plot_set_number(plot, "from_v", low_v - margin_v);
  tv_plot_set_number(plot, "to_v", high_v + 4.0 * margin_v);
  if (worst != NULL)
    tv_plot_title(plot, "%.40s takes %s V of the %s V that %.30s loses at %s", worst->name,
                  tv_fixed(worst->drop_v, 2).text, tv_fixed(ledger->rest_v - ledger->terminal_v, 2).text,
                  ledger->amplifier, tv_clock(ledger->time_s).text);
}

enum { NAME_LINES = 3, LINE_MAX = 48 };

/* A name on up to three lines of `most` letters, broken at blanks; returns the number of lines. */
static int break_name(const char *name, size_t most, char lines[NAME_LINES][LINE_MAX]) {
  int count = 0;
  for (int k = 0; k < NAME_LINES; k++) lines[k][0] = '\0';
  while (*name != '\0' && count < NAME_LINES) {
    size_t length = strlen(name), take = length;
    if (length > most) {
      take = most;
      while (take > 0 && name[take] != ' ') take--;
      if (take == 0) take = strcspn(name, " ");
    }
    bool cut = take > most || (count + 1 == NAME_LINES && take < length);
    snprintf(lines[count++], LINE_MAX, "%.*s%s", (int)(take > most ? most - 2 : take), name, cut ? ".." : "");
    name += take;
    name += strspn(name, " ");
  }
  return count;
}

/* The boxes of one side, evenly spaced from left to right. */
static void feed_path_side(struct tv_plot *plot, const struct tv_feed_drop *const *parts, int count, double middle,
                      double height) {
  double pitch = 1.0 / count, half = 0.43 * pitch > 0.11 ? 0.11 : 0.43 * pitch;
  for (int k = 0; k < count; k++) {
    const struct tv_feed_drop *part = parts[k];
    char lines[NAME_LINES][LINE_MAX], volts[64];
    double x = count == 1 ? 0.5 : 0.11 + 0.78 * k / (count - 1);
    int count_lines = break_name(part->name, (size_t)(200.0 * half), lines);
    snprintf(volts, sizeof volts, "%s V%s", tv_fixed(part->drop_v, 2).text,
             part->amplifier ? " left"
             : part->worst   ? " WORST"
                             : "");
    const double box[] = {x - half,        x + half,
                          middle - height, middle + height,
                          part->drop_v,    part->worst ? 1 : part->amplifier || part->battery ? 2 : 0};
    for (size_t c = 0; c < sizeof box / sizeof box[0]; c++) tv_plot_cell(plot, box[c]);
    for (int l = 0; l < NAME_LINES; l++) tv_plot_cell_text(plot, lines[l]);
    tv_plot_cell_text(plot, volts);
    tv_plot_cell(plot, count_lines);
    tv_plot_row(plot);
  }
}

static void make_feed_path(struct tv_plot *plot, const struct tv_feed_drops *drops,
                      const struct tailvolt_ledger *ledger) {
  enum { SIDE_MAX = 7 };
  const struct tv_feed_drop *feed[TV_FEED_DROPS_MAX], *back[TV_FEED_DROPS_MAX], *worst = NULL;
  static const struct tv_feed_drop none = {.name = "(no part)"};
  int feeds = 0, backs = 0;
  for (int k = 0; k < drops->count; k++) {
    if (drops->part[k].worst) worst = &drops->part[k];
    if (drops->part[k].ground_side)
      back[backs++] = &drops->part[k];
    else
      feed[feeds++] = &drops->part[k];
  }
  /* more than fit: drop the smallest, joints first */
  while (feeds > SIDE_MAX || backs > SIDE_MAX) {
    const struct tv_feed_drop **side = feeds > SIDE_MAX ? feed : back;
    int *count = feeds > SIDE_MAX ? &feeds : &backs, least = -1;
    for (int k = 0; k < *count; k++)
      if (!side[k]->amplifier && (side == back || k > 0) &&
          (least < 0 || fabs(side[k]->drop_v) < fabs(side[least]->drop_v)))
        least = k;
    memmove(&side[least], &side[least + 1], (size_t)(*count - least - 1) * sizeof *side);
    --*count;
  }
  if (backs == 0) back[backs++] = &none;
  /* current returns from right to left */
  for (int k = 0; k < backs / 2; k++) {
    const struct tv_feed_drop *kept = back[k];
    back[k] = back[backs - 1 - k];
    back[backs - 1 - k] = kept;
  }
  feed_path_side(plot, feed, feeds, 0.80, 0.11);
  feed_path_side(plot, back, backs, 0.20, 0.11);
  if (worst != NULL)
    tv_plot_title(plot, "The feed path of %.30s at its worst moment, %s: %.40s loses the most", ledger->amplifier,
                  tv_clock(ledger->time_s).text, worst->name);
}

enum tailvolt_status tv_plot_of_ledger(struct tv_plot *plot, const json_t *result, int picture) {
  struct tailvolt_ledger_entry entries[TV_FEED_DROPS_MAX];
  struct tailvolt_ledger ledger;
  struct tv_feed_drops drops;
  const json_t *from = ledger_of(result, plot->request->amplifier);
  if (from == NULL) return tv_plot_refuse(plot, "the result has no sag ledger of that amplifier");
  read_ledger(from, &ledger, entries, TV_FEED_DROPS_MAX - 2);
  if (!(ledger.rest_v - ledger.terminal_v >= TV_NO_SAG_V))
    return tv_plot_refuse(plot, "%.60s never falls below its rest voltage: there is no sag to draw",
                          ledger.amplifier);
  tv_feed_drops_of(&ledger, has_several(result), &drops);
  if (picture == TV_PICTURE_LOOP)
    make_feed_path(plot, &drops, &ledger);
  else
    make_waterfall(plot, &drops, &ledger);
  return TAILVOLT_OK;
}

/* ---- several results side by side ---- */

enum { RESULTS_MAX = 6, TOGETHER_MAX = 15 };

/* One part in each of the results, 0 where it is not in the feed path. */
struct together {
  int count;
  char name[TOGETHER_MAX][TAILVOLT_NAME_MAX + 64];
  double drop_v[TOGETHER_MAX][RESULTS_MAX];
};

static void put_together(struct together *all, const struct tv_feed_drops *drops, int result) {
  for (int k = 0; k < drops->count; k++) {
    const struct tv_feed_drop *part = &drops->part[k];
    int at = 0;
    if (part->amplifier) continue;
    while (at < all->count && strcmp(all->name[at], part->name) != 0) at++;
    if (at == all->count) {
      if (at == TOGETHER_MAX)
        at--; /* the surplus is merged into the last */
      else
        all->count++;
      snprintf(all->name[at], sizeof all->name[at], "%s",
               at + 1 == TOGETHER_MAX ? "further parts" : part->name);
    }
    all->drop_v[at][result] += part->drop_v;
  }
}

enum tailvolt_status tv_plot_of_ledgers(struct tv_plot *plot, const struct tv_plot_file *const *files,
                                        int count) {
  struct tailvolt_ledger_entry entries[TV_FEED_DROPS_MAX];
  struct together all = {0};
  double lowest_v[RESULTS_MAX], most_v = 0.0;
  int worst = 0, best = 0;
  if (count > RESULTS_MAX) return tv_plot_refuse(plot, "at most %d results can be drawn side by side", RESULTS_MAX);
  for (int f = 0; f < count; f++) {
    struct tailvolt_ledger ledger;
    struct tv_feed_drops drops;
    const json_t *from = ledger_of(files[f]->json, plot->request->amplifier);
    if (from == NULL)
      return tv_plot_refuse(plot, "%.120s: has no sag ledger of that amplifier", files[f]->path);
    read_ledger(from, &ledger, entries, TV_FEED_DROPS_MAX - 2);
    tv_feed_drops_of(&ledger, has_several(files[f]->json), &drops);
    put_together(&all, &drops, f);
    lowest_v[f] = ledger.terminal_v;
    if (lowest_v[f] < lowest_v[worst]) worst = f;
    if (lowest_v[f] > lowest_v[best]) best = f;
    char text[TV_PLOT_NAME_MAX + 128], key[16];
    snprintf(text, sizeof text, "%s: %s V of sag, %s V left", files[f]->name,
             tv_fixed(ledger.rest_v - ledger.terminal_v, 2).text, tv_fixed(ledger.terminal_v, 2).text);
    snprintf(key, sizeof key, "name%d", f + 1);
    tv_plot_set_text(plot, key, text);
  }
  for (int k = 0; k < all.count; k++) {
    tv_plot_cell(plot, k);
    tv_plot_cell_text(plot, all.name[k]);
    for (int f = 0; f < count; f++) {
      tv_plot_cell(plot, all.drop_v[k][f]);
      tv_plot_cell_text(plot, tv_fixed(all.drop_v[k][f], 2).text);
      most_v = fmax(most_v, all.drop_v[k][f]);
    }
    tv_plot_row(plot);
  }
  tv_plot_set_number(plot, "count", count);
  tv_plot_set_number(plot, "rows", all.count);
  tv_plot_set_number(plot, "to_v", 1.15 * most_v + 0.01);
  tv_plot_title(plot, "At the worst moment %s V are left (%.30s), %s V (%.30s)",
                tv_fixed(lowest_v[worst], 2).text, files[worst]->name, tv_fixed(lowest_v[best], 2).text,
                files[best]->name);
  return TAILVOLT_OK;
}
