#include "report/csv.h"

#include <csv.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/number.h"
#include "text/text.h"
#include "text/words.h"
#include "tailvolt/report.h"

static const char *past_digits(const char *at) { return at + strspn(at, "0123456789"); }

/* A spreadsheet takes a cell that begins so for a formula; a number with a sign is none, with its unit or without: "-3 dB", "+1e-3". */
bool tv_csv_is_formula(const char *text) {
  static const char *const letters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
  if (text[0] == '=' || text[0] == '@') return true;
  if (text[0] != '+' && text[0] != '-') return false;
  const char *at = past_digits(text + 1);
  bool digits = at > text + 1;
  if (*at == '.') digits = past_digits(at + 1) > at + 1 || digits, at = past_digits(at + 1);
  if (!digits) return true;
  if (*at == 'e' || *at == 'E') {
    const char *power = at + 1 + (at[1] == '+' || at[1] == '-');
    if (past_digits(power) > power) at = past_digits(power);
  }
  if (*at == ' ') at++;
  at += strspn(at, letters);
  return *at != '\0' && strcmp(at, "%") != 0;
}

void tv_csv_text(struct tv_buffer *buffer, const char *text) {
  size_t length = strlen(text), room = 2 * length + 4;
  char *seen = malloc(room), *quoted = malloc(2 * room);
  if (seen != NULL && quoted != NULL) {
    snprintf(seen, room, "%s", tv_csv_is_formula(text) ? "'" : "");
    tv_copy_seen(seen + strlen(seen), room - 1, text);
    if (strpbrk(seen, ",\"") == NULL)
      tv_buffer_add(buffer, seen);
    else
      tv_buffer_add_bytes(buffer, quoted, csv_write(quoted, 2 * room, seen, strlen(seen)));
  } else {
    buffer->failed = true;
  }
  free(seen);
  free(quoted);
}

static void number(struct tv_buffer *buffer, double value) {
  tv_buffer_add(buffer, ",");
  if (isfinite(value)) tv_buffer_add(buffer, tv_shortest(value).text);
}

void tv_csv_certainty(struct tv_buffer *buffer, const struct tailvolt_certainty *certainty) {
  bool known = certainty != NULL && certainty->known;
  number(buffer, known ? certainty->holds_low_pct : (double)NAN);
  number(buffer, known ? certainty->holds_high_pct : (double)NAN);
  number(buffer, known ? certainty->min_v.p10 : (double)NAN);
  number(buffer, known ? certainty->min_v.p90 : (double)NAN);
}

static void row(struct tv_buffer *buffer, const struct tailvolt_result *run,
                const struct tailvolt_amplifier_result *amplifier, const struct tailvolt_certainty *certainty) {
  char count[16];
  tv_csv_text(buffer, run->system);
  tv_buffer_add(buffer, ",");
  tv_csv_text(buffer, run->profile);
  tv_buffer_add(buffer, ",");
  tv_csv_text(buffer, amplifier->name);
  tv_buffer_add(buffer, ",");
  tv_buffer_add(buffer, tv_verdict_word(run->status));
  const double before[] = {
      amplifier->rest_v, amplifier->min_v, amplifier->min_time_s, amplifier->min_without_ripple_v,
      amplifier->mean_v, amplifier->low_1pct_v, amplifier->target_v, amplifier->below_target_pct,
      amplifier->mean_a, amplifier->peak_a, amplifier->input_j, amplifier->output_j,
      amplifier->lost_output_db};
  for (size_t k = 0; k < sizeof before / sizeof before[0]; k++) number(buffer, before[k]);
  snprintf(count, sizeof count, ",%d", amplifier->cut_outs);
  tv_buffer_add(buffer, count);
  number(buffer, amplifier->off_s);
  tv_csv_certainty(buffer, certainty);
  tv_buffer_add(buffer, "\n");
}

enum tailvolt_status tailvolt_report_csv(const struct tailvolt_result *const *runs, int run_count,
                                         char **out) {
  struct tv_buffer buffer = {0};
  tv_buffer_add(&buffer,
                "system,profile,amplifier,status,rest_v,min_v,min_time_s,min_without_ripple_v,mean_v,"
                "low_1pct_v,target_v,below_target_pct,mean_a,peak_a,input_j,output_j,lost_output_db,"
                "cut_outs,off_s," TV_CSV_CERTAINTY "\n");
  /* of all runs together: what stands in the one that is shown first */
  const struct tailvolt_certainty *certainty = NULL;
  for (int r = 0; r < run_count; r++)
    if (runs[r]->certainty.known) certainty = &runs[r]->certainty;
  for (int r = 0; r < run_count; r++)
    for (int a = 0; a < runs[r]->amplifier_count; a++) row(&buffer, runs[r], &runs[r]->amplifiers[a], certainty);
  return tv_buffer_finish(&buffer, out);
}
