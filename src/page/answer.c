/* The answer: the profiles run, the report's first lines, the loop and the ledger of each amplifier. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "page/job.h"
#include "report/json.h"
#include "report/json_write.h"
#include "simulate/worst.h"
#include "text/feed_drops.h"
#include "text/words.h"

/* A line of a first screen has its label in the first eight columns; a line that starts with blanks continues the one
 * above. */
enum { LABEL_COLUMNS = 8 };

static size_t label_length(const char *line, size_t length) {
  size_t k = 0;
  while (k < length && line[k] >= 'A' && line[k] <= 'Z') k++;
  if (k == 0 || k >= LABEL_COLUMNS || length <= LABEL_COLUMNS) return 0;
  for (size_t at = k; at < LABEL_COLUMNS; at++)
    if (line[at] != ' ') return 0;
  return line[LABEL_COLUMNS] != ' ' ? k : 0;
}

/* What a command that a line names is called on the page. */
static const struct {
  const char *command, *here;
} called[] = {{"`tailvolt remedy`", "Remedy"},
              {"`tailvolt parked`", "Engine off"},
              {"`tailvolt envelope`", "your own song"},
              {"tailvolt remedy --parked", "Remedy, with a wanted time parked of"},
              {", listed at the end", ""}};

static void name_as_here(const char *text, struct tv_buffer *out) {
  while (*text != '\0') {
    size_t k = 0, count = sizeof called / sizeof called[0];
    while (k < count && strncmp(text, called[k].command, strlen(called[k].command)) != 0) k++;
    if (k < count) tv_buffer_add(out, called[k].here);
    else tv_buffer_add_bytes(out, text, 1);
    text += k < count ? strlen(called[k].command) : 1;
  }
}

/* A line that is about an option of a command is left out. */
static void end_line(json_t **list, char *label, struct tv_buffer *text) {
  if (text->length == 0 && !text->failed) return;
  if (text->failed || strncmp(text->text, "--", 2) != 0) {
    struct tv_buffer named = {0};
    json_t *line = json_object();
    if (!text->failed) name_as_here(text->text, &named);
    tv_json_put_text(&line, "label", label);
    tv_json_put(&line, "text", text->failed || named.failed ? NULL : tv_json_text(named.text));
    tv_json_append(list, line);
    free(named.text);
  }
  free(text->text);
  *text = (struct tv_buffer){0};
  label[0] = '\0';
}

json_t *tv_page_first_lines(const char *report) {
  json_t *list = json_array();
  struct tv_buffer text = {0};
  char label[LABEL_COLUMNS + 1] = "";
  for (const char *at = report; *at != '\0' && *at != '\n';) {
    size_t length = strcspn(at, "\n"), from = 0;
    while (from < length && at[from] == ' ') from++;
    if (from == 0) {
      end_line(&list, label, &text);
      size_t named = label_length(at, length);
      memcpy(label, at, named);
      label[named] = '\0';
      from = named > 0 ? LABEL_COLUMNS : 0;
    } else {
      tv_buffer_add(&text, " ");
    }
    tv_buffer_add_bytes(&text, at + from, length - from);
    at += length + (at[length] == '\n');
  }
  end_line(&list, label, &text);
  return list;
}

enum tailvolt_status tv_page_run_all(struct tv_page_job *job, char error[TAILVOLT_TEXT_MAX]) {
  tv_page_forget_results(job);
  for (int k = job->count - 1; k >= 0; k--) {
    struct tailvolt_options options = tv_page_options(job);
    enum tailvolt_status status = tailvolt_simulate(job->system, job->profiles[k], &options, &job->results[k], error);
    if (status != TAILVOLT_OK) return status;
    /* idling is judged together with the road of the same day: the last of the standard profiles, so the first to
     * run */
    if (job->standard && k == job->count - 1)
      job->options.road_balance_a = tailvolt_charge_balance_a(job->results[k], TAILVOLT_ROAD);
  }
  for (int k = 1; k < job->count; k++)
    if (job->results[k]->status > job->results[job->worst]->status) job->worst = k;
  return TAILVOLT_OK;
}

/* The ledger entry, and so the part of the system, behind a drop; the drops are the ledger's entries except the battery's,
 * feed first. */
static const struct tailvolt_ledger_entry *entry_of(const struct tailvolt_ledger *ledger, int wanted, bool ground_side) {
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (!tv_entry_is_battery(entry) && entry->ground_side == ground_side && wanted-- == 0) return entry;
  }
  return NULL;
}

static void put_size(json_t **part, const struct tailvolt_system *system, const struct tailvolt_ledger_entry *entry) {
  bool conductor = entry->part_kind != TAILVOLT_PART_ISOLATOR && entry->index >= 0 && entry->index < system->conductor_count;
  const struct tailvolt_conductor *of = conductor ? &system->conductors[entry->index] : NULL;
  if (of == NULL) return;
  if (of->area_m2 > 0.0) {
    tv_json_put_text(part, "size", of->size);
    tv_json_put_number(part, "area_mm2", 1e6 * of->area_m2);
    tv_json_put_text(part, "length", tv_length(of->length_m, false).text);
  }
  if (of->kind == TAILVOLT_FUSE) tv_json_put_text(part, "size", tv_amperes(of->rating_a).text);
}

static json_t *loop_part(const struct tailvolt_system *system, const struct tailvolt_ledger *ledger,
                         const struct tv_feed_drop *drop, const struct tailvolt_ledger_entry *entry) {
  char section[TAILVOLT_NAME_MAX + 32] = "";
  json_t *part = json_object();
  tv_json_put_text(&part, "name", drop->name);
  tv_json_put_text(&part, "shown", tv_fixed(drop->drop_v, 2).text);
  tv_json_put_number(&part, "drop_v", drop->drop_v);
  tv_json_put(&part, "ground_side", json_boolean(drop->ground_side));
  tv_json_put(&part, "worst", json_boolean(drop->worst));
  tv_json_put_text(&part, "kind", drop->amplifier ? "amplifier" : drop->battery ? "battery" : tv_part_word(entry->part_kind));
  if (drop->amplifier) tv_section_words(TAILVOLT_PART_AMPLIFIER, ledger->amplifier, section, sizeof section);
  else if (drop->battery) tv_section_words(TAILVOLT_PART_BATTERY, ledger->battery, section, sizeof section);
  else tv_section_words(entry->part_kind, entry->name, section, sizeof section);
  tv_json_put_text(&part, "section", section);
  if (entry != NULL) put_size(&part, system, entry);
  return part;
}

json_t *tv_page_loop(const struct tailvolt_system *system, const struct tailvolt_ledger *ledger) {
  struct tv_feed_drops *drops = malloc(sizeof *drops);
  json_t *loop = drops != NULL ? json_object() : NULL, *parts = json_array();
  int feed = 0, ground = 0;
  if (drops != NULL) tv_feed_drops_of(ledger, system->battery_count > 1, drops);
  for (int k = 0; drops != NULL && k < drops->count; k++) {
    const struct tv_feed_drop *drop = &drops->part[k];
    bool wiring = !drop->amplifier && !drop->battery;
    const struct tailvolt_ledger_entry *entry =
        !wiring ? NULL : entry_of(ledger, drop->ground_side ? ground++ : feed++, drop->ground_side);
    if (wiring && entry == NULL) continue;
    tv_json_append(&parts, loop_part(system, ledger, drop, entry));
  }
  tv_json_put_text(&loop, "amplifier", ledger->amplifier);
  tv_json_put(&loop, "amplifier_index", json_integer(ledger->amplifier_index));
  tv_json_put_text(&loop, "at", tv_clock(ledger->time_s).text);
  tv_json_put_number(&loop, "time_s", ledger->time_s);
  tv_json_put_text(&loop, "rest", tv_fixed(ledger->rest_v, 2).text);
  tv_json_put_text(&loop, "left", tv_fixed(ledger->terminal_v, 2).text);
  tv_json_put_number(&loop, "sag_v", ledger->rest_v - ledger->terminal_v);
  tv_json_put(&loop, "parts", parts);
  free(drops);
  return loop;
}

int tv_page_worst_amplifier(const struct tailvolt_result *result) {
  int order[TAILVOLT_PHASES];
  int worst = tv_phases_worst_first(result, order) > 0 ? tv_worst_amplifier(result, order[0]) : -1;
  return worst >= 0 ? worst : 0;
}

static json_t *loops(const struct tailvolt_system *system, const struct tailvolt_result *result) {
  json_t *list = json_array();
  int worst = tv_page_worst_amplifier(result);
  for (int turn = 0; turn < 2; turn++)
    for (int k = 0; k < result->ledger_count; k++)
      if ((result->ledgers[k].amplifier_index == worst) == (turn == 0))
        tv_json_append(&list, tv_page_loop(system, &result->ledgers[k]));
  return list;
}

/* The lowest voltage of any amplifier in any run; NAN = none. */
static double lowest_v(const struct tv_page_job *job) {
  double lowest = (double)NAN;
  for (int k = 0; k < job->count; k++)
    for (int a = 0; a < job->results[k]->amplifier_count; a++)
      if (!(job->results[k]->amplifiers[a].min_v >= lowest)) lowest = job->results[k]->amplifiers[a].min_v;
  return lowest;
}

static json_t *runs(const struct tv_page_job *job) {
  json_t *list = json_array();
  for (int k = 0; k < job->count; k++) tv_json_append(&list, tv_json_result(job->system, job->results[k]));
  return list;
}

/* The text report of all runs, with details or without. */
static enum tailvolt_status text_of(const struct tv_page_job *job, bool details, char **text) {
  const struct tailvolt_report_style style = {.utf8 = true, .details = details};
  const char *next[TAILVOLT_STANDARD_PROFILES] = {NULL};
  for (int k = 0; k < job->count && !job->advised; k++) next[k] = "being worked out";
  if (job->next[0] != '\0') next[job->worst] = job->next;
  return tailvolt_report_text(job->system, (const struct tailvolt_result *const *)job->results, job->count, next, &style, text);
}

char *tv_page_answer(const struct tv_page_job *job) {
  char *brief = NULL, *details = NULL;
  enum tailvolt_status status = text_of(job, false, &brief);
  if (status == TAILVOLT_OK) status = text_of(job, true, &details);
  json_t *root = status == TAILVOLT_OK ? tv_page_begin() : NULL;
  const struct tailvolt_result *worst = job->results[job->worst];
  tv_json_put_number(&root, "lowest_v", lowest_v(job));
  tv_json_put_text(&root, "verdict", tv_verdict_word(worst->status));
  tv_json_put_text(&root, "safety", tv_verdict_word(worst->safety));
  tv_json_put_text(&root, "lowest", tv_fixed(lowest_v(job), 2).text);
  tv_json_put(&root, "lines", status == TAILVOLT_OK ? tv_page_first_lines(brief) : NULL);
  tv_json_put(&root, "advised", json_boolean(job->advised));
  tv_json_put_number(&root, "holds_pct", worst->certainty.known ? worst->certainty.holds_pct : (double)NAN);
  tv_json_put_text(&root, "holds", worst->certainty.known ? tv_percent(worst->certainty.holds_pct).text : "");
  tv_json_put(&root, "worst_run", json_integer(job->worst));
  tv_json_put(&root, "loops", loops(job->system, worst));
  if (status == TAILVOLT_OK) tv_json_put_text(&root, "details", details);
  tv_json_put(&root, "runs", runs(job));
  tailvolt_report_free(brief);
  tailvolt_report_free(details);
  return tv_page_finish(root);
}

char *tv_page_run(struct tv_page_job *job) {
  char error[TAILVOLT_TEXT_MAX] = "";
  if (job->system == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no system is loaded");
  enum tailvolt_status status = tv_page_run_all(job, error);
  if (status == TAILVOLT_OK)
    status = tailvolt_ask_parked(job->system, job->profiles[job->worst], &job->options, job->results[job->worst]);
  if (status == TAILVOLT_OK) return tv_page_answer(job);
  tv_page_forget_results(job);
  return tv_page_refuse(status, error);
}

enum tailvolt_status tv_page_look_ahead(struct tv_page_job *job) {
  struct tailvolt_options options = tv_page_options(job);
  struct tailvolt_result *worst = job->results[job->worst];
  struct tailvolt_next_step step;
  enum tailvolt_status status = tailvolt_find_next_step(job->system, job->profiles[job->worst], &options, worst, &step);
  if (status != TAILVOLT_OK) return status;
  tailvolt_next_step_text(&step, job->next, sizeof job->next);
  return tailvolt_find_hangs_on(job->system, job->profiles[job->worst], &options, worst, &worst->hangs_on);
}

char *tv_page_advise(struct tv_page_job *job) {
  if (job->system == NULL || job->results[0] == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "nothing was run");
  enum tailvolt_status status = tv_page_look_ahead(job);
  if (status != TAILVOLT_OK) return tv_page_refuse(status, NULL);
  job->advised = true;
  return tv_page_answer(job);
}
