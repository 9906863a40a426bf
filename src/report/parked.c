/* The text report on a parked car: five lines, then the run down, the start, the batteries, the spread. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "text/text.h"
#include "text/words.h"
#include "report/page.h"
#include "report/parked_words.h"
#include "report/sure.h"
#include "report/text_parts.h"
#include "tailvolt/study.h"

enum { LABEL_WIDTH = 8, FIRST_SCREEN_WIDTH = 80, MOMENTS_SHOWN = 14 };
#define WORTH_SAYING_AH 0.5

/* ---- words ---- */

/* A name short enough for a sentence. */
static struct tv_number short_name(const char *name) {
  struct tv_number out;
  snprintf(out.text, sizeof out.text, "%.*s", TV_PARKED_NAME_SHOWN, name);
  return out;
}

static void limit_words(const struct tailvolt_parked *p, char *text, size_t size) {
  if (p->limit_by_voltage)
    snprintf(text, size, "%s V rested", tv_fixed(p->rest_limit_v, 2).text);
  else
    snprintf(text, size, "%s %%", tv_compact(p->soc_limit_pct, 1).text);
}

static const char *still(const struct tailvolt_parked *p) {
  if (p->floor_from == TAILVOLT_FLOOR_OF_BOOTING)
    return p->starts ? "the car still switches on" : "the car does not switch on";
  return p->starts ? "the car still starts" : "the car does not start";
}

static void end_words(const struct tailvolt_parked *p, char *text, size_t size) {
  char limit[64], battery[TAILVOLT_NAME_MAX + 32];
  switch (p->ends_by) {
  case TAILVOLT_ENDS_BY_RESTART:
    if (p->until_s <= 0) {
      snprintf(text, size, "%s even before anything has played", still(p));
      return;
    }
    snprintf(text, size, "then the car no longer %s",
             p->floor_from == TAILVOLT_FLOOR_OF_BOOTING ? "switches on" : "starts");
    break;
  case TAILVOLT_ENDS_BY_CUT_OUT:
    snprintf(text, size, "then amplifier %s cuts out; %s", short_name(p->cut_out_amplifier).text, still(p));
    break;
  case TAILVOLT_ENDS_BY_REST_LIMIT:
    limit_words(p, limit, sizeof limit);
    tv_parked_battery_words(p, p->limit_index, battery, sizeof battery);
    snprintf(text, size, "then %s is down to %s; %s", battery, limit, still(p));
    break;
  case TAILVOLT_ENDS_BY_TIME:
    snprintf(text, size, "the longest time simulated; %s", still(p));
    break;
  }
}

/* ---- the first screen: a label, and at most two lines of 80 columns ---- */

static void labelled(struct tv_page *page, enum tv_colour colour, const char *name, const char *text) {
  struct tv_page lines = {0};
  char *out = NULL, start[LABEL_WIDTH + 1];
  lines.style = page->style;
  snprintf(start, sizeof start, "%-*s", LABEL_WIDTH, name);
  tv_page_wrapped_within(&lines, FIRST_SCREEN_WIDTH, start, text);
  if (tv_buffer_finish(&lines.text, &out) != TAILVOLT_OK) {
    page->text.failed = true;
    return;
  }
  size_t length = strlen(name);
  tv_page_colour(page, colour);
  tv_page_add(page, name);
  tv_page_colour(page, TV_PLAIN);
  tv_buffer_add(&page->text, out + length);
  tailvolt_report_free(out);
}

static void plays_line(struct tv_page *page, const struct tailvolt_parked *p) {
  char end[240], text[400];
  bool asked = isfinite(p->wanted_s), holds = asked && p->until_s >= p->wanted_s;
  end_words(p, end, sizeof end);
  if (!asked)
    snprintf(text, sizeof text, "%s, %s", tv_playing_time(p->until_s).text, end);
  else
    snprintf(text, sizeof text, "%s wanted: plays %s%s, %s", tv_playing_time(p->wanted_s).text, holds ? "" : "only ",
             tv_playing_time(p->until_s).text, end);
  labelled(page, asked ? holds ? TV_GREEN : TV_RED : TV_BOLD, asked ? holds ? "HOLDS" : "FAILS" : "PLAYS",
           text);
}

/* "no start after 2 h", or what is known if that has not happened. */
static void add_time(char *text, size_t size, const char *what, double time_s, const char *otherwise,
                     double followed_s) {
  size_t used = strlen(text);
  if (isfinite(time_s))
    snprintf(text + used, size - used, "%s%s after %s", used > 0 ? ", " : "", what, tv_playing_time(time_s).text);
  else
    snprintf(text + used, size - used, "%s%s %s", used > 0 ? ", " : "", otherwise, tv_playing_time(followed_s).text);
}

static void ends_line(struct tv_page *page, const struct tailvolt_parked *p) {
  char text[600] = "", what[200], otherwise[200], limit[64], battery[TAILVOLT_NAME_MAX + 32];
  bool boots = p->floor_from == TAILVOLT_FLOOR_OF_BOOTING;
  add_time(text, sizeof text, boots ? "does not switch on" : "no start", p->restart_s,
           boots ? "still switches on after" : "still starts after", p->followed_s);
  if (isfinite(p->strict_until_s)) {
    size_t used = strlen(text);
    snprintf(text + used, sizeof text - used, " (%s if it needs %s V)", tv_playing_time(p->strict_until_s).text,
             tv_fixed(p->strict_floor_v, 1).text);
  }
  add_time(text, sizeof text, "cut-out", p->cut_out_s, "no cut-out within", p->followed_s);
  if (isfinite(p->soc_limit_pct) || isfinite(p->rest_limit_v)) {
    limit_words(p, limit, sizeof limit);
    tv_parked_battery_words(p, p->limit_index, battery, sizeof battery);
    snprintf(what, sizeof what, "%s at %s", battery, limit);
    snprintf(otherwise, sizeof otherwise, "%s above %s for", battery, limit);
    add_time(text, sizeof text, what, p->rest_limit_s, otherwise, p->followed_s);
  }
  labelled(page, TV_BOLD, "ENDS", text);
}

static void state_line(struct tv_page *page, const struct tailvolt_parked *p) {
  char text[480], music[TAILVOLT_NAME_MAX + 32], starter[TAILVOLT_NAME_MAX + 32];
  const struct tailvolt_parked_battery *m = &p->batteries[p->music_index];
  tv_parked_battery_words(p, p->music_index, music, sizeof music);
  tv_parked_battery_words(p, p->starter_index, starter, sizeof starter);
  if (p->music_index == p->starter_index)
    snprintf(text, sizeof text, "%s %s %%, %s V rested, %s V after %s of silence; ", music,
             tv_compact(p->soc_pct, 0).text, tv_fixed(p->rest_v, 2).text, tv_fixed(p->paused_v, 2).text,
             tv_playing_time(p->pause_s).text);
  else
    snprintf(text, sizeof text, "%s (music) %s %%, %s V rested; %s %s %%, %s V rested; ", music,
             tv_compact(m->end_soc_pct, 0).text, tv_fixed(m->end_rest_v, 2).text, starter,
             tv_compact(p->soc_pct, 0).text, tv_fixed(p->rest_v, 2).text);
  size_t used = strlen(text);
  snprintf(text + used, sizeof text - used,
           p->floor_from == TAILVOLT_FLOOR_OF_BOOTING ? "%s V while the car boots, needs %s V"
                                                      : "%s V while cranking, needs %s V",
           tv_fixed(p->cranking_v, 1).text, tv_fixed(p->floor_v, 1).text);
  labelled(page, TV_BOLD, "STATE", text);
}

static void add_use(char *text, size_t size, const char *how, double time_s, const char *joint) {
  size_t used = strlen(text);
  snprintf(text + used, size - used, "%s%s %s", joint, tv_playing_time(time_s).text, how);
}

/* Three uses of the car; where the battery, not the alternator, sets the pace, the time is the same. */
static void add_uses(char *text, size_t size, double idle_s, double town_s, double motorway_s) {
  struct tv_number idle = tv_playing_time(idle_s), town = tv_playing_time(town_s), motorway = tv_playing_time(motorway_s);
  if (isfinite(idle_s + town_s + motorway_s) && strcmp(idle.text, town.text) == 0 && strcmp(idle.text, motorway.text) == 0) {
    add_use(text, size, "at idle, in town or on the motorway", idle_s, "");
    return;
  }
  const struct {
    double time_s;
    const char *how;
  } use[] = {{idle_s, "at idle"}, {town_s, "in town"}, {motorway_s, "on the motorway"}};
  enum { USES = sizeof use / sizeof use[0] };
  int ends = 0, said = 0;
  for (int k = 0; k < USES; k++) ends += isfinite(use[k].time_s) != 0;
  for (int k = 0; k < USES; k++) {
    if (!isfinite(use[k].time_s)) continue;
    add_use(text, size, use[k].how, use[k].time_s, said == 0 ? "" : said == ends - 1 ? " or " : ", ");
    said++;
  }
  said = 0;
  for (int k = 0; k < USES; k++)
    if (!isfinite(use[k].time_s)) tv_append(text, size, "%s%s", said++ == 0 ? ", never " : " nor ", use[k].how);
}

static bool has_lithium(const struct tailvolt_system *system, const struct tailvolt_parked *p) {
  return system != NULL && p->music_index < system->battery_count &&
         system->batteries[p->music_index].kind == TAILVOLT_LITHIUM_IRON;
}

/* It gave some of the charge, and driving restores it. */
static bool comes_back(const struct tailvolt_parked *p, int battery) {
  const struct tailvolt_parked_battery *b = &p->batteries[battery];
  return b->taken_ah >= WORTH_SAYING_AH && (isfinite(b->idle_s) || isfinite(b->town_s) || isfinite(b->motorway_s));
}

static bool others_come_back(const struct tailvolt_parked *p) {
  for (int k = 0; k < p->battery_count; k++)
    if (comes_back(p, k)) return true;
  return false;
}

static void back_line(struct tv_page *page, const struct tailvolt_system *system,
                      const struct tailvolt_parked *p) {
  char text[400];
  if (p->taken_ah < 0.005) {
    labelled(page, TV_BOLD, "BACK", "next to nothing was taken");
    return;
  }
  snprintf(text, sizeof text, "%s Ah (%s Wh) taken, %s A on average; ", tv_fixed(p->taken_ah, 1).text,
           tv_fixed(p->taken_j / 3600, 0).text, tv_fixed(p->mean_a, 1).text);
  size_t used = strlen(text);
  if (system != NULL && (!system->alternator.present || system->vehicle.charging == TAILVOLT_CHARGING_NONE)) {
    snprintf(text + used, sizeof text - used, "nothing in the car charges it: use a charger");
  } else if (p->stays_open.present) {
    snprintf(text + used, sizeof text - used, "driving does not put %s back: the %s stays open at %s V (sense = engine closes it)",
             others_come_back(p) ? "all of it" : "it", tv_isolator_kind_word(p->stays_open.kind),
             tv_fixed(p->stays_open.set_point_v, 1).text);
  } else if (!isfinite(p->idle_s) && !isfinite(p->town_s) && !isfinite(p->motorway_s)) {
    snprintf(text + used, sizeof text - used, "no driving puts it back%s: use a charger",
             p->ambient_c < 0 && has_lithium(system, p) ? " while the pack is below 0 C" : " within a day");
  } else {
    snprintf(text + used, sizeof text - used, "back to %s %% after ", tv_compact(p->back_soc_pct, 0).text);
    if (p->charged_when_ready)
      add_use(text, sizeof text, "switched on (charged whenever the car is ready)", p->idle_s, "");
    else
      add_uses(text, sizeof text, p->idle_s, p->town_s, p->motorway_s);
  }
  labelled(page, TV_BOLD, "BACK", text);
}

/* The first finding; what else is to be done before anyone plays is counted here and told at the end. */
static void safety_line(struct tv_page *page, const struct tailvolt_parked *p) {
  char text[TAILVOLT_TEXT_MAX + 64], first[TAILVOLT_TEXT_MAX];
  int more = 0;
  bool unsafe = p->finding_count > 0 && p->findings[0].status == TAILVOLT_FAILS;
  if (p->finding_count == 0) {
    labelled(page, TV_BOLD, "SAFETY", "nothing unsafe in the wiring as described");
    return;
  }
  for (int k = 1; k < p->finding_count; k++)
    more += p->findings[k].status != TAILVOLT_HOLDS || p->findings[k].kind == TAILVOLT_FOUND_FUSE_ASSUMED ||
            p->findings[k].kind == TAILVOLT_FOUND_FUSE_ASSUMED_INSIDE;
  tailvolt_finding_text(&p->findings[0], page->style.us_units, first, sizeof first);
  snprintf(text, sizeof text, "%s%s", unsafe ? "FAILS: " : "", first);
  size_t used = strlen(text);
  if (more > 0) snprintf(text + used, sizeof text - used, "; %d more at the end", more);
  labelled(page, unsafe ? TV_RED : TV_BOLD, "SAFETY", text);
}

/* A time that ended with what was simulated, or that is not known, is longer. */
static void plays_for(double until_s, double limit_s, char *to, size_t size) {
  bool longer = !(until_s < limit_s);
  snprintf(to, size, "%s%s", longer ? "over " : "", tv_playing_time(longer ? limit_s : until_s).text);
}

static void sure_line(struct tv_page *page, const struct tailvolt_parked *p) {
  char first[160] = "", second[TV_SURE_LINE], share[48], shortest[64], longest[64];
  const struct tailvolt_parked_spread *s = &p->spread;
  if (s->vehicles == 0 || s->done == 0) {
    labelled(page, TV_BOLD, "SURE", "--spread 64 draws such cars by age, charge, cold and wiring, and says how many");
    return;
  }
  plays_for(s->until_s.p10, p->limit_s, shortest, sizeof shortest);
  plays_for(s->until_s.p90, p->limit_s, longest, sizeof longest);
  if (isfinite(p->wanted_s)) {
    tv_sure_share(s->holds_low_pct, s->holds_high_pct, share, sizeof share);
    tv_append(first, sizeof first, "%s such cars play %s (", share, tv_playing_time(p->wanted_s).text);
  } else {
    tv_append(first, sizeof first, "8 of 10 such cars play ");
  }
  if (s->until_s.p10 < p->limit_s)
    tv_append(first, sizeof first, "%s to %s", shortest, longest);
  else
    tv_append(first, sizeof first, "%s", longest);
  tv_append(first, sizeof first, "%s", isfinite(p->wanted_s) ? ")" : " with this music");
  if (p->certainty.level_db > 0) tv_append(first, sizeof first, " +-%s dB", tv_compact(p->certainty.level_db, 1).text);
  labelled(page, TV_BOLD, "SURE", first);
  tv_measure_first_line(&p->certainty, 72, second, sizeof second);
  if (second[0] != '\0') tv_page_line(page, "        %s", second);
}

/* A round time longer than it plays, worth trying; NAN = it plays long enough for any evening. */
static double worth_asking_s(double until_s) {
  static const double round_h[] = {1, 2, 3, 4, 6, 8, 12, 24};
  for (size_t k = 0; k < sizeof round_h / sizeof *round_h; k++)
    if (until_s < round_h[k] * 3600) return round_h[k] * 3600;
  return (double)NAN;
}

static void next_line(struct tv_page *page, const struct tailvolt_system *system,
                      const struct tailvolt_parked *p) {
  char text[480];
  struct tv_number wanted = tv_playing_time(p->wanted_s);
  bool fails = isfinite(p->wanted_s) && p->until_s < p->wanted_s;
  double ask_s = worth_asking_s(p->until_s);
  if (p->restart_s == 0)
    snprintf(text, sizeof text, "charge the battery that starts the car, or have it tested");
  else if (fails && isfinite(p->wanted_level_db))
    snprintf(text, sizeof text, "%s lasts at %s dB (now %s dB); at this level: tailvolt remedy --parked %sh",
             wanted.text, tv_fixed(floor(10 * p->wanted_level_db) / 10, 1).text,
             tv_compact(p->level_db, 1).text, tv_compact(p->wanted_s / 3600, 2).text);
  else if (fails)
    snprintf(text, sizeof text,
             "no level lasts %s, the idle draw alone is too much: tailvolt remedy --parked %sh", wanted.text,
             tv_compact(p->wanted_s / 3600, 2).text);
  else if (p->level_looked_for && p->any_level_lasts)
    snprintf(text, sizeof text, "%s lasts even at %s dB", wanted.text,
             tv_compact(p->wanted_level_db, 1).text);
  else if (p->level_looked_for && isfinite(p->wanted_level_db))
    snprintf(text, sizeof text, "%s lasts up to %s dB (now %s dB)", wanted.text,
             tv_fixed(floor(10 * p->wanted_level_db) / 10, 1).text, tv_compact(p->level_db, 1).text);
  else if (isfinite(ask_s))
    snprintf(text, sizeof text, "--for %sh finds the level that lasts %s", tv_compact(ask_s / 3600, 0).text,
             tv_playing_time(ask_s).text);
  else
    snprintf(text, sizeof text, "nothing: it outlasts an evening");
  size_t used = strlen(text);
  if (system != NULL && system->assumption_count > 0)
    snprintf(text + used, sizeof text - used, ".  %d values assumed, listed at the end",
             system->assumption_count);
  labelled(page, TV_BOLD, "NEXT", text);
}

/* ---- the sections below ---- */

static void head(struct tv_page *page, const struct tailvolt_parked *p) {
  tv_page_newline(page);
  tv_page_line(page, "system  %s", p->system);
  tv_page_line(page, "plays   %s, level %s dB, air %s", p->profile[0] != '\0' ? p->profile : "without a break",
               tv_compact(p->level_db, 2).text, tv_temperature(p->ambient_c, page->style.us_units).text);
  if (p->full)
    tv_page_line(page, "run     every step, %lld of %s ms", p->steps, tv_compact(1000 * p->step_s, 3).text);
  else
    tv_page_line(page, "run     %d checkpoints in %d passes, %lld steps of %s ms", p->checkpoints, p->passes,
                 p->steps, tv_compact(1000 * p->step_s, 3).text);
  if (p->loads_off[0] == '\0') return;
  char text[2 * TAILVOLT_TEXT_MAX];
  snprintf(text, sizeof text, "%s: loads run with the engine; a profile's column load:NAME keeps one on", p->loads_off);
  tv_page_wrapped(page, "off     ", text);
}

/* Thinned evenly in time, keeping the first and the last. */
static void discharge(struct tv_page *page, const struct tailvolt_parked *p) {
  static const struct tv_column columns[] = {{"time", true, 0},
                                             {"charge %", true, 0},
                                             {"rested V", true, 0},
                                             {"mean A", true, 0},
                                             {"lowest V at amplifier", true, 0},
                                             {"starter %", true, 0},
                                             {"cranks at V", true, 0},
                                             {"needs V", true, 0}};
  struct tv_table table;
  char music[TAILVOLT_NAME_MAX + 32];
  bool two = p->music_index != p->starter_index;
  struct tv_column used[8];
  int count = 0;
  if (p->moment_count == 0) return;
  for (int k = 0; k < 8; k++)
    if (k != 5 || two) used[count++] = columns[k];
  if (p->floor_from == TAILVOLT_FLOOR_OF_BOOTING) used[count - 2].head = "boots at V";
  tv_parked_battery_words(p, p->music_index, music, sizeof music);
  tv_page_heading(page, "DISCHARGE of %s; each line says how a start would go at that moment", music);
  tv_table_begin(&table, page, used, count);
  double last_s = p->moments[p->moment_count - 1].time_s, next_s = 0;
  for (int k = 0; k < p->moment_count; k++) {
    const struct tailvolt_parked_moment *m = &p->moments[k];
    if (m->time_s < next_s && k + 1 < p->moment_count) continue;
    next_s = m->time_s + last_s / MOMENTS_SHOWN;
    tv_table_cell(&table, tv_playing_time(m->time_s).text);
    tv_table_cell(&table, tv_fixed(m->music_soc_pct, 1).text);
    tv_table_cell(&table, tv_fixed(m->music_rest_v, 2).text);
    tv_table_cell(&table, tv_fixed(m->mean_a, 1).text);
    tv_table_cell(&table, tv_fixed(m->min_v, 2).text);
    if (two) tv_table_cell(&table, tv_fixed(m->soc_pct, 1).text);
    tv_table_cell(&table, tv_fixed(m->cranking_v, 2).text);
    tv_table_cell(&table, tv_fixed(m->floor_v, 2).text);
  }
  tv_table_end(&table, "  ");
}

static void weeks(double time_s, char *text, size_t size) {
  double days = time_s / 86400;
  if (days < 21)
    snprintf(text, size, "%s days", tv_compact(days, days < 3 ? 1 : 0).text);
  else
    snprintf(text, size, "%s weeks", tv_compact(days / 7, 0).text);
}

static void start_lines(struct tv_page *page, const struct tailvolt_parked *p) {
  static const char *const from[] = {"by its equation at that temperature", "as asked",
                                     "as its computers need"};
  char starter[TAILVOLT_NAME_MAX + 32], fresh[48], after[48];
  tv_parked_battery_words(p, p->starter_index, starter, sizeof starter);
  tv_page_heading(page, "THE START from %s after %s of silence", starter, tv_playing_time(p->pause_s).text);
  if (p->floor_from == TAILVOLT_FLOOR_OF_BOOTING)
    tv_page_line(page,
                 "  %s A to boot computers and close contactors; the music off, every other load as it was",
                 tv_fixed(p->cranking_a, 0).text);
  else
    tv_page_line(page,
                 "  %s A to break away, then %s A turning, at %s; the music off, every other load as it was",
                 tv_fixed(p->breakaway_a, 0).text, tv_fixed(p->cranking_a, 0).text,
                 tv_temperature(p->ambient_c, page->style.us_units).text);
  tv_page_line(page, "  lowest at the posts %s V, needs %s V (%s): %s", tv_fixed(p->cranking_v, 2).text,
               tv_fixed(p->floor_v, 2).text, from[p->floor_from], still(p));
  weeks(p->standing_s, fresh, sizeof fresh);
  weeks(p->standing_after_s, after, sizeof after);
  if (isfinite(p->standing_s))
    tv_page_line(
        page, "  left standing, key off (%s mA, self-discharge): no start after %s; after this music %s",
        tv_compact(1000 * p->key_off_a, 0).text, fresh, isfinite(p->standing_after_s) ? after : "at once");
}

static void batteries(struct tv_page *page, const struct tailvolt_parked *p) {
  static const struct tv_column columns[] = {
      {"battery", false, 40}, {"start %", true, 0},  {"end %", true, 0}, {"limit %", true, 0},
      {"rested V", true, 0},  {"taken Ah", true, 0}, {"share", true, 0}, {"what for", false, 0}};
  struct tv_table table;
  if (p->battery_count < 2) return;
  tv_page_heading(page, "BATTERIES at the end");
  tv_table_begin(&table, page, columns, 8);
  for (int k = 0; k < p->battery_count; k++) {
    const struct tailvolt_parked_battery *b = &p->batteries[k];
    char words[TAILVOLT_NAME_MAX + 32];
    tv_parked_battery_words(p, k, words, sizeof words);
    tv_table_cell(&table, words);
    tv_table_cell(&table, tv_fixed(b->start_soc_pct, 1).text);
    tv_table_cell(&table, tv_fixed(b->end_soc_pct, 1).text);
    tv_table_cell(&table, tv_compact(b->limit_pct, 0).text);
    tv_table_cell(&table, tv_fixed(b->end_rest_v, 2).text);
    tv_table_cell(&table, tv_fixed(b->taken_ah, 1).text);
    tv_table_cell(&table, tv_percent(b->share_pct).text);
    tv_table_cell(&table, b->starts_car && b->feeds_music ? "music, start"
                          : b->starts_car                 ? "start"
                          : b->feeds_music                ? "music"
                                                          : "");
  }
  tv_table_end(&table, "  ");
}

/* What stays open and why, and what of the charge driving does put back. */
static void what_stays_open(struct tv_page *page, const struct tailvolt_parked *p) {
  const struct tailvolt_parked_open *open = &p->stays_open;
  char text[4 * TAILVOLT_TEXT_MAX] = "", words[TAILVOLT_NAME_MAX + 32];
  if (!open->present) return;
  tv_parked_battery_words(p, open->battery, words, sizeof words);
  tv_append(text, sizeof text, "%s does not get its charge back while the alternator stays at %s V: ", words,
            tv_fixed(open->set_point_v, 1).text);
  tv_section_words(TAILVOLT_PART_ISOLATOR, open->name, words, sizeof words);
  tv_append(text, sizeof text, "%s closes above %s V; with sense = engine it is closed whenever the engine runs", words,
            tv_fixed(open->closes_above_v, 1).text);
  for (int k = 0; k < p->battery_count; k++) {
    const struct tailvolt_parked_battery *b = &p->batteries[k];
    if (!comes_back(p, k)) continue;
    tv_parked_battery_words(p, k, words, sizeof words);
    tv_append(text, sizeof text, "; %s is back after ", words);
    add_uses(text, sizeof text, b->idle_s, b->town_s, b->motorway_s);
  }
  tv_page_wrapped(page, "  ", text);
}

/* `soonest` NULL where all is known. True where some are not, since cars were not followed to the longest time. */
static bool quantile_row(struct tv_table *table, const char *what, const struct tailvolt_parked_quantiles *q,
                         const struct tailvolt_parked_quantiles *soonest, double limit_s) {
  const double latest_s[] = {q->p10, q->p50, q->p90};
  double least_s[] = {(double)NAN, (double)NAN, (double)NAN};
  bool cut_short = false;
  if (soonest != NULL) least_s[0] = soonest->p10, least_s[1] = soonest->p50, least_s[2] = soonest->p90;
  tv_table_cell(table, what);
  for (int k = 0; k < 3; k++) {
    struct tv_number from = tv_playing_time(isfinite(least_s[k]) ? fmin(least_s[k], limit_s) : limit_s), to = tv_playing_time(latest_s[k]);
    char text[2 * sizeof from.text + 8] = "";
    if (!(latest_s[k] < limit_s))
      tv_append(text, sizeof text, "over %s", from.text);
    else if (isfinite(least_s[k]) && strcmp(from.text, to.text) != 0)
      tv_append(text, sizeof text, "%s to %s", from.text, to.text);
    else
      tv_append(text, sizeof text, "%s", to.text);
    tv_table_cell(table, text);
    cut_short = cut_short || least_s[k] < limit_s;
  }
  return cut_short;
}

static void spread(struct tv_page *page, const struct tailvolt_parked *p) {
  static const struct tv_column columns[] = {
      {"", false, 0}, {"10 %", true, 0}, {"half", true, 0}, {"90 %", true, 0}};
  const struct tailvolt_parked_spread *s = &p->spread;
  const struct tailvolt_parked_soonest *soonest = &p->spread_soonest;
  struct tv_table table;
  if (s->vehicles == 0) return;
  if (s->done == 0 && s->refused > 0) {
    tv_page_heading(page, "SPREAD: none of the %d vehicles drawn could be computed", s->refused);
    return;
  }
  tv_page_heading(page, "SPREAD over %d vehicles%s: so many have ended by then", s->done,
                  s->partial ? " (PARTIAL: stopped before all were done)" : "");
  tv_table_begin(&table, page, columns, 4);
  quantile_row(&table, "playing ends", &s->until_s, NULL, p->limit_s);
  bool cut_short = quantile_row(&table, "no start", &s->restart_s, &soonest->restart_s, p->limit_s);
  cut_short |= quantile_row(&table, "cut-out", &s->cut_out_s, &soonest->cut_out_s, p->limit_s);
  if (isfinite(p->soc_limit_pct) || isfinite(p->rest_limit_v))
    cut_short |= quantile_row(&table, "charge limit", &s->rest_limit_s, &soonest->rest_limit_s, p->limit_s);
  tv_table_end(&table, "  ");
  if (cut_short)
    tv_page_wrapped(page, "  ", "ranges, and \"over\": no car is followed beyond the moment its supply collapses under the music or its "
                                "battery is empty");
  if (isfinite(s->not_starting_pct)) {
    char text[240] = "";
    tv_append(text, sizeof text, "after %s: %s would not start, ", tv_playing_time(p->wanted_s).text, tv_percent(s->not_starting_pct).text);
    if (soonest->not_followed_pct > 0)
      tv_append(text, sizeof text, "%s may or may not (not followed so long), ", tv_percent(soonest->not_followed_pct).text);
    tv_append(text, sizeof text, "%s have stopped playing", tv_percent(s->too_short_pct).text);
    tv_page_wrapped(page, "  ", text);
  }
  if (s->refused > 0) tv_page_line(page, "  %d vehicles could not be computed and are left out", s->refused);
  tv_text_shares(page, &p->certainty, "playing time");
}

enum tailvolt_status tailvolt_report_parked_text(const struct tailvolt_system *system,
                                                 const struct tailvolt_parked *p,
                                                 const struct tailvolt_report_style *style, char **out) {
  struct tv_page page = {0};
  *out = NULL;
  if (style != NULL) page.style = *style;
  plays_line(&page, p);
  ends_line(&page, p);
  state_line(&page, p);
  back_line(&page, system, p);
  safety_line(&page, p);
  sure_line(&page, p);
  next_line(&page, system, p);
  head(&page, p);
  spread(&page, p);
  discharge(&page, p);
  start_lines(&page, p);
  batteries(&page, p);
  what_stays_open(&page, p);
  if (p->caution_count > 0) tv_page_heading(&page, "CAUTIONS");
  for (int k = 0; k < p->caution_count; k++) {
    char sentence[TAILVOLT_TEXT_MAX];
    tv_parked_caution_text(p, p->caution[k], sentence, sizeof sentence);
    tv_page_wrapped(&page, "  - ", sentence);
  }
  tv_text_wiring_safety(&page, p->findings, p->finding_count);
  tv_text_assumed(&page, system);
  return tv_buffer_finish(&page.text, out);
}
