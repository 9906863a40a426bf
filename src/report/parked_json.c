/* The parked study as JSON and as CSV. */
#include <math.h>
#include <stdio.h>

#include "report/csv.h"
#include "report/json.h"
#include "report/json_write.h"
#include "report/parked_words.h"
#include "report/sure.h"
#include "text/number.h"
#include "text/words.h"
#include "tailvolt/study.h"
#include "tailvolt/version.h"

static void text_or_null(json_t **object, const char *key, const char *value) {
  tv_json_put(object, key, value[0] != '\0' ? tv_json_text(value) : json_null());
}

static json_t *playing(const struct tailvolt_parked *p) {
  char room[64];
  json_t *o = json_object();
  tv_json_put_number(&o, "restart_s", p->restart_s);
  tv_json_put_number(&o, "cut_out_s", p->cut_out_s);
  tv_json_put_number(&o, "rest_limit_s", p->rest_limit_s);
  tv_json_put_number(&o, "until_s", p->until_s);
  tv_json_put_text(&o, "ends_by", tv_parked_end_word(p, room, sizeof room));
  text_or_null(&o, "cut_out_amplifier", p->cut_out_amplifier);
  text_or_null(&o, "rest_limit_battery", p->limit_battery);
  tv_json_put_number(&o, "soc_limit_pct", p->soc_limit_pct);
  tv_json_put_number(&o, "rest_limit_v", p->rest_limit_v);
  tv_json_put_number(&o, "longest_s", p->limit_s);
  tv_json_put_number(&o, "followed_s", p->followed_s);
  text_or_null(&o, "loads_off", p->loads_off);
  tv_json_put_number(&o, "level_db", p->level_db);
  tv_json_put_number(&o, "taken_ah", p->taken_ah);
  tv_json_put_number(&o, "taken_j", p->taken_j);
  tv_json_put_number(&o, "mean_a", p->mean_a);
  tv_json_put_number(&o, "strict_floor_v", p->strict_floor_v);
  tv_json_put_number(&o, "strict_until_s", p->strict_until_s);
  return o;
}

static json_t *standing(const struct tailvolt_parked *p) {
  json_t *o = json_object();
  tv_json_put_number(&o, "key_off_a", p->key_off_a);
  tv_json_put_number(&o, "no_start_after_s", p->standing_s);
  tv_json_put_number(&o, "after_playing_s", p->standing_after_s);
  return o;
}

static json_t *quantiles(const struct tailvolt_parked_quantiles *q) {
  json_t *o = json_object();
  tv_json_put_number(&o, "p10", q->p10);
  tv_json_put_number(&o, "p50", q->p50);
  tv_json_put_number(&o, "p90", q->p90);
  return o;
}

/* How sure it is, with the keys of `certainty`: holds = the wanted time is reached. */
static json_t *certainty(const struct tailvolt_parked *p) {
  const struct tailvolt_parked_spread *s = &p->spread;
  if (s->vehicles == 0) return json_null();
  json_t *o = json_object();
  tv_json_put(&o, "vehicles", json_integer(s->done));
  tv_json_put_number(&o, "holds_pct", 100 - s->too_short_pct);
  tv_json_put_number(&o, "holds_low_pct", s->holds_low_pct);
  tv_json_put_number(&o, "holds_high_pct", s->holds_high_pct);
  tv_json_put(&o, "until_s", quantiles(&s->until_s));
  return o;
}

static json_t *at_end(const struct tailvolt_parked *p) {
  static const char *const floors[] = {"starter", "stated", "booting"};
  json_t *o = json_object();
  tv_json_put_text(&o, "battery", p->starter);
  tv_json_put_number(&o, "soc_pct", p->soc_pct);
  tv_json_put_number(&o, "rest_v", p->rest_v);
  tv_json_put_number(&o, "paused_v", p->paused_v);
  tv_json_put_number(&o, "pause_s", p->pause_s);
  tv_json_put_number(&o, "cranking_v", p->cranking_v);
  tv_json_put_number(&o, "floor_v", p->floor_v);
  tv_json_put(&o, "starts", json_boolean(p->starts));
  tv_json_put_number(&o, "cranking_a", p->cranking_a);
  tv_json_put_number(&o, "breakaway_a", p->breakaway_a);
  tv_json_put_number(&o, "ambient_c", p->ambient_c);
  tv_json_put_text(&o, "floor_from", floors[p->floor_from]);
  tv_json_put_text(&o, "music_battery", p->batteries[p->music_index].name);
  tv_json_put_number(&o, "music_soc_pct", p->batteries[p->music_index].end_soc_pct);
  tv_json_put_number(&o, "music_rest_v", p->batteries[p->music_index].end_rest_v);
  return o;
}

static json_t *stays_open(const struct tailvolt_parked *p) {
  const struct tailvolt_parked_open *open = &p->stays_open;
  if (!open->present) return json_null();
  json_t *o = json_object();
  tv_json_put_text(&o, "battery", p->batteries[open->battery].name);
  tv_json_put_text(&o, "isolator", open->name);
  tv_json_put_text(&o, "kind", tv_isolator_kind_word(open->kind));
  tv_json_put_number(&o, "set_point_v", open->set_point_v);
  tv_json_put_number(&o, "closes_above_v", open->closes_above_v);
  return o;
}

static json_t *back(const struct tailvolt_parked *p) {
  json_t *o = json_object();
  tv_json_put_number(&o, "to_soc_pct", p->back_soc_pct);
  tv_json_put_number(&o, "idle_s", p->idle_s);
  tv_json_put_number(&o, "town_s", p->town_s);
  tv_json_put_number(&o, "motorway_s", p->motorway_s);
  tv_json_put(&o, "when_ready", json_boolean(p->charged_when_ready));
  tv_json_put(&o, "stays_open", stays_open(p));
  return o;
}

static json_t *wanted(const struct tailvolt_parked *p) {
  if (!isfinite(p->wanted_s)) return json_null();
  json_t *o = json_object();
  tv_json_put_number(&o, "for_s", p->wanted_s);
  tv_json_put(&o, "holds", json_boolean(p->until_s >= p->wanted_s));
  tv_json_put_number(&o, "level_db", p->wanted_level_db);
  tv_json_put(&o, "full_level_lasts", p->level_looked_for ? json_boolean(p->any_level_lasts) : json_null());
  return o;
}

static json_t *matters(const struct tailvolt_certainty *c) {
  json_t *list = json_array();
  for (int k = 0; k < c->measure_first_count; k++) {
    json_t *o = json_object();
    tv_json_put_text(&o, "key", c->measure_first[k].key);
    tv_json_put_number(&o, "share_pct", c->measure_first[k].share_pct);
    tv_json_append(&list, o);
  }
  return list;
}

static json_t *spread(const struct tailvolt_parked *p) {
  const struct tailvolt_parked_spread *s = &p->spread;
  static const char *const ends[] = {"restart", "cut-out", "rest limit", "time"};
  if (s->vehicles == 0) return json_null();
  const struct tailvolt_parked_soonest *least = &p->spread_soonest;
  json_t *o = json_object(), *shares = json_object(), *soonest = json_object();
  tv_json_put(&o, "vehicles", json_integer(s->done));
  tv_json_put(&o, "asked", json_integer(s->vehicles));
  tv_json_put(&o, "partial", json_boolean(s->partial));
  tv_json_put(&o, "refused", json_integer(s->refused));
  tv_json_put(&o, "until_s", quantiles(&s->until_s));
  tv_json_put(&o, "restart_s", quantiles(&s->restart_s));
  tv_json_put(&o, "cut_out_s", quantiles(&s->cut_out_s));
  tv_json_put(&o, "rest_limit_s", quantiles(&s->rest_limit_s));
  tv_json_put_number(&o, "not_starting_pct", s->not_starting_pct);
  tv_json_put_number(&o, "too_short_pct", s->too_short_pct);
  for (int k = 0; k < 4; k++) tv_json_put_number(&shares, ends[k], s->ends_by_pct[k]);
  tv_json_put(&o, "ends_by_pct", shares);
  tv_json_put(&o, "matters", matters(&p->certainty));
  tv_json_put(&soonest, "restart_s", quantiles(&least->restart_s));
  tv_json_put(&soonest, "cut_out_s", quantiles(&least->cut_out_s));
  tv_json_put(&soonest, "rest_limit_s", quantiles(&least->rest_limit_s));
  tv_json_put(&o, "not_before", soonest);
  tv_json_put_number(&o, "not_followed_pct", least->not_followed_pct);
  return o;
}

static json_t *moments(const struct tailvolt_parked *p) {
  json_t *list = json_array();
  for (int k = 0; k < p->moment_count; k++) {
    const struct tailvolt_parked_moment *m = &p->moments[k];
    json_t *o = json_object();
    tv_json_put_number(&o, "time_s", m->time_s);
    tv_json_put_number(&o, "soc_pct", m->soc_pct);
    tv_json_put_number(&o, "rest_v", m->rest_v);
    tv_json_put_number(&o, "mean_a", m->mean_a);
    tv_json_put_number(&o, "min_v", m->min_v);
    tv_json_put_number(&o, "cranking_v", m->cranking_v);
    tv_json_put_number(&o, "floor_v", m->floor_v);
    tv_json_put_number(&o, "music_soc_pct", m->music_soc_pct);
    tv_json_put_number(&o, "music_rest_v", m->music_rest_v);
    tv_json_append(&list, o);
  }
  return list;
}

static json_t *batteries(const struct tailvolt_parked *p) {
  json_t *list = json_array();
  for (int k = 0; k < p->battery_count; k++) {
    const struct tailvolt_parked_battery *b = &p->batteries[k];
    json_t *o = json_object();
    tv_json_put_text(&o, "name", b->name);
    tv_json_put_number(&o, "start_soc_pct", b->start_soc_pct);
    tv_json_put_number(&o, "end_soc_pct", b->end_soc_pct);
    tv_json_put_number(&o, "end_rest_v", b->end_rest_v);
    tv_json_put_number(&o, "taken_ah", b->taken_ah);
    tv_json_put_number(&o, "limit_pct", b->limit_pct);
    tv_json_put_number(&o, "share_pct", b->share_pct);
    tv_json_put(&o, "starts_car", json_boolean(b->starts_car));
    tv_json_put(&o, "feeds_music", json_boolean(b->feeds_music));
    tv_json_put_number(&o, "idle_s", b->idle_s);
    tv_json_put_number(&o, "town_s", b->town_s);
    tv_json_put_number(&o, "motorway_s", b->motorway_s);
    tv_json_append(&list, o);
  }
  return list;
}

static json_t *method(const struct tailvolt_parked *p) {
  json_t *o = json_object();
  tv_json_put_text(&o, "kind", p->full ? "every step" : "checkpoints");
  char why[160];
  tv_parked_full_reason(p, why, sizeof why);
  text_or_null(&o, "why", why);
  tv_json_put(&o, "steps", json_integer((json_int_t)p->steps));
  tv_json_put_number(&o, "step_s", p->step_s);
  tv_json_put(&o, "checkpoints", json_integer(p->checkpoints));
  tv_json_put(&o, "passes", json_integer(p->passes));
  return o;
}

static json_t *assumed(const struct tailvolt_system *system) {
  json_t *list = json_array();
  for (int k = 0; system != NULL && k < system->assumption_count; k++) {
    json_t *o = json_object();
    tv_json_put_text(&o, "key", system->assumptions[k].key);
    tv_json_put_text(&o, "value", system->assumptions[k].value);
    tv_json_append(&list, o);
  }
  return list;
}

enum tailvolt_status tailvolt_report_parked_json(const struct tailvolt_system *system,
                                                 const struct tailvolt_parked *p, char **out) {
  struct tv_buffer buffer = {0};
  json_t *o = json_object(), *cautions = json_array();
  tv_json_put_text(&o, "tailvolt", TAILVOLT_VERSION);
  tv_json_put_text(&o, "system", p->system);
  text_or_null(&o, "profile", p->profile);
  tv_json_put(&o, "playing", playing(p));
  tv_json_put(&o, "at_end", at_end(p));
  tv_json_put(&o, "batteries", batteries(p));
  tv_json_put(&o, "back", back(p));
  tv_json_put(&o, "wanted", wanted(p));
  tv_json_put(&o, "spread", spread(p));
  tv_json_put(&o, "certainty", tv_json_certainty(&p->certainty));
  tv_json_put(&o, "moments", moments(p));
  tv_json_put(&o, "method", method(p));
  tv_json_put(&o, "assumed", assumed(system));
  for (int k = 0; k < p->caution_count; k++) {
    char sentence[TAILVOLT_TEXT_MAX];
    tv_parked_caution_text(p, p->caution[k], sentence, sizeof sentence);
    tv_json_append(&cautions, tv_json_text(sentence));
  }
  tv_json_put(&o, "cautions", cautions);
  tv_json_put(&o, "standing", standing(p));
  tv_json_put(&o, "certainty", certainty(p));
  tv_json_put(&o, "safety", tv_json_findings(p->findings, p->finding_count));
  tv_json_write(o, &buffer);
  json_decref(o);
  return tv_buffer_finish(&buffer, out);
}

static void cell(struct tv_buffer *buffer, double value) {
  tv_buffer_add(buffer, ",");
  if (isfinite(value)) tv_buffer_add(buffer, tv_shortest(value).text);
}

enum tailvolt_status tailvolt_report_parked_csv(const struct tailvolt_parked *p, char **out) {
  struct tv_buffer buffer = {0};
  char room[64];
  tv_buffer_add(
      &buffer,
      "system,profile,ends_by,until_s,restart_s,cut_out_s,rest_limit_s,taken_ah,taken_j,mean_a,soc_pct,"
      "rest_v,cranking_v,idle_s,town_s,wanted_s,wanted_level_db,vehicles,until_p10_s,until_p50_s,"
      "until_p90_s,motorway_s,music_battery,music_soc_pct,floor_v,strict_until_s,standing_s," TV_CSV_CERTAINTY "\n");
  tv_csv_text(&buffer, p->system);
  tv_buffer_add(&buffer, ",");
  tv_csv_text(&buffer, p->profile);
  tv_buffer_add(&buffer, ",");
  tv_csv_text(&buffer, tv_parked_end_word(p, room, sizeof room));
  const double cells[] = {p->until_s, p->restart_s, p->cut_out_s, p->rest_limit_s,   p->taken_ah,
                          p->taken_j, p->mean_a,    p->soc_pct,   p->rest_v,         p->cranking_v,
                          p->idle_s,  p->town_s,    p->wanted_s,  p->wanted_level_db};
  for (size_t k = 0; k < sizeof cells / sizeof cells[0]; k++) cell(&buffer, cells[k]);
  cell(&buffer, p->spread.vehicles > 0 ? p->spread.done : (double)NAN);
  const struct tailvolt_parked_quantiles *q = &p->spread.until_s;
  const double spread_s[] = {q->p10, q->p50, q->p90};
  for (int k = 0; k < 3; k++) cell(&buffer, p->spread.vehicles > 0 ? spread_s[k] : (double)NAN);
  cell(&buffer, p->motorway_s);
  tv_buffer_add(&buffer, ",");
  tv_csv_text(&buffer, p->batteries[p->music_index].name);
  const double more[] = {p->batteries[p->music_index].end_soc_pct, p->floor_v, p->strict_until_s,
                         p->standing_s};
  for (size_t k = 0; k < sizeof more / sizeof more[0]; k++) cell(&buffer, more[k]);
  tv_csv_certainty(&buffer, &p->certainty);
  tv_buffer_add(&buffer, "\n");
  return tv_buffer_finish(&buffer, out);
}
