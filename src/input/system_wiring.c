/* The wiring as a whole: points no source reaches, sources and loads whose current has no return path,
 * sources short-circuited by the wiring. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/system_draft.h"
#include "text/number.h"
#include "text/text.h"

/* A part between two points. */
struct link {
  const struct tv_part *part;
  enum tv_key_id key[2];
  int point[2];
  double resistance_ohm; /* NAN unless a conductor */
  bool conducts, source, draws;
  bool open;           /* a source without a return path, reported */
  bool done, in_short; /* for the search for short circuits */
};

struct wiring {
  struct tv_draft *draft;
  const struct tailvolt_system *system;
  int link_count;
  struct link *links;
  int *group;        /* [points] union-find */
  double *least_ohm; /* [points] */
  int *came_by;      /* [points] link */
};

static const struct {
  enum tv_kind kind;
  enum tv_key_id plus, minus;
  bool conducts, source, draws;
} terminals[] = {{TV_KIND_ALTERNATOR, TV_K_ALT_POSITIVE, TV_K_ALT_NEGATIVE, false, true, false},
                 {TV_KIND_CONVERTER, TV_K_CONV_POSITIVE, TV_K_CONV_NEGATIVE, false, true, false},
                 {TV_KIND_BATTERY, TV_K_BAT_POSITIVE, TV_K_BAT_NEGATIVE, false, true, false},
                 {TV_KIND_CABLE, TV_K_FROM, TV_K_TO, true, false, false},
                 {TV_KIND_STRAP, TV_K_FROM, TV_K_TO, true, false, false},
                 {TV_KIND_FUSE, TV_K_FROM, TV_K_TO, true, false, false},
                 {TV_KIND_JOINT, TV_K_FROM, TV_K_TO, true, false, false},
                 {TV_KIND_ISOLATOR, TV_K_FROM, TV_K_TO, true, false, false},
                 {TV_KIND_LOAD, TV_K_LOAD_POSITIVE, TV_K_LOAD_NEGATIVE, false, false, true},
                 {TV_KIND_AMPLIFIER, TV_K_AMP_POSITIVE, TV_K_AMP_NEGATIVE, false, false, true},
                 {TV_KIND_CAPACITOR, TV_K_CAP_POSITIVE, TV_K_CAP_NEGATIVE, false, false, true},
                 {TV_KIND_METER, TV_K_METER_POSITIVE, TV_K_METER_NEGATIVE, false, false, false}};

static int find_point(const struct wiring *w, const char *name) {
  for (int k = 0; k < w->system->point_count; k++)
    if (strcmp(w->system->point_names[k], name) == 0) return k;
  return 0; /* the first battery's own name for its negative post */
}

static const char *point_name(const struct wiring *w, int point) {
  return w->system->point_names[point];
}

static int root(const struct wiring *w, int point) {
  while (w->group[point] != point) point = w->group[point];
  return point;
}

static void join(struct wiring *w, const struct link *link) {
  int a = root(w, link->point[0]), b = root(w, link->point[1]);
  /* the lower number leads, so a group is known by its first point */
  if (a < b) w->group[b] = a;
  if (b < a) w->group[a] = b;
}

static void clear_groups(struct wiring *w) {
  for (int k = 0; k < w->system->point_count; k++) w->group[k] = k;
}

/* Resistances in the order the conductors were built, which is that of their sections. */
static void collect(struct wiring *w) {
  int conductor = 0;
  for (int p = 0; p < w->draft->part_count; p++) {
    const struct tv_part *part = w->draft->parts[p];
    if (part->skipped) continue;
    for (size_t k = 0; k < sizeof terminals / sizeof terminals[0]; k++) {
      if (terminals[k].kind != part->kind) continue;
      struct link *link = &w->links[w->link_count++];
      *link = (struct link){part,
                            {terminals[k].plus, terminals[k].minus},
                            {0, 0},
                            (double)NAN,
                            terminals[k].conducts,
                            terminals[k].source,
                            terminals[k].draws,
                            false,
                            false,
                            false};
      for (int end = 0; end < 2; end++) link->point[end] = find_point(w, tv_text(part, link->key[end]));
      if (link->conducts && (part->kind != TV_KIND_ISOLATOR || tv_is_straight(part)))
        link->resistance_ohm = w->system->conductors[conductor++].resistance_ohm;
    }
  }
}

static void check_both_ends(struct wiring *w) {
  for (int k = 0; k < w->link_count; k++) {
    const struct link *link = &w->links[k];
    if (link->point[0] != link->point[1]) continue;
    const char *point = point_name(w, link->point[0]);
    if (link->source)
      tv_part_fault(w->draft, link->part, link->key[1], "[%s] is short-circuited: both its ends are at '%s'",
                    link->part->id, point);
    else
      tv_part_fault(w->draft, link->part, link->key[1], "both ends of [%s] are at '%s'", link->part->id,
                    point);
  }
}

/* How many parts other than `except` end at a point. */
static int others_at(const struct wiring *w, int point, const struct link *except) {
  int count = 0;
  for (int k = 0; k < w->link_count; k++) {
    const struct link *link = &w->links[k];
    if (link == except || link->part->kind == TV_KIND_METER) continue;
    if (link->point[0] == point || link->point[1] == point) count++;
  }
  return count;
}

/* An isolator joins two batteries: one whose end nothing else joins is a slip. */
static void check_isolators(struct wiring *w) {
  for (int k = 0; k < w->link_count; k++) {
    const struct link *link = &w->links[k];
    if (link->part->kind != TV_KIND_ISOLATOR || link->point[0] == link->point[1]) continue;
    for (int end = 0; end < 2; end++)
      if (others_at(w, link->point[end], link) == 0)
        tv_part_fault(w->draft, link->part, link->key[end], "[%s] leads nowhere: no other part joins '%s'", link->part->id,
                      point_name(w, link->point[end]));
  }
}

/* The point whose name a lone one may have meant; not the other end of a part that ends here (an amplifier's
 * plus and minus look alike). */
static const char *nearest_point(const struct wiring *w, int lone) {
  const char *names[256];
  size_t count = 0;
  names[count++] = "earth";
  for (int p = 0; p < w->system->point_count && count < sizeof names / sizeof names[0]; p++) {
    bool other_end = p == lone;
    for (int k = 0; k < w->link_count; k++) {
      const int *point = w->links[k].point;
      other_end = other_end || (point[0] == lone && point[1] == p) || (point[1] == lone && point[0] == p);
    }
    if (!other_end) names[count++] = point_name(w, p);
  }
  return tv_nearest_word(point_name(w, lone), names, count);
}

/* Points that share a group but no battery or alternator: one fault per group. */
static void check_reach(struct wiring *w) {
  int points = w->system->point_count;
  clear_groups(w);
  for (int k = 0; k < w->link_count; k++)
    if (w->links[k].conducts) join(w, &w->links[k]);
  for (int g = 0; g < points; g++) {
    bool fed = false;
    if (root(w, g) != g) continue;
    for (int k = 0; k < w->link_count; k++)
      if (w->links[k].source)
        fed = fed || root(w, w->links[k].point[0]) == g || root(w, w->links[k].point[1]) == g;
    if (fed || g == 0) continue;
    char names[120] = "";
    int count = 0;
    for (int p = 0; p < points; p++) {
      if (root(w, p) != g) continue;
      size_t used = strlen(names);
      if (++count <= 3)
        snprintf(names + used, sizeof names - used, "%s'%.30s'", used == 0 ? "" : ", ", point_name(w, p));
    }
    const char *near = count == 1 ? nearest_point(w, g) : NULL;
    for (int k = 0; k < w->link_count; k++) {
      const struct link *link = &w->links[k];
      int end = root(w, link->point[0]) == g ? 0 : root(w, link->point[1]) == g ? 1 : -1;
      if (end < 0) continue;
      if (near != NULL)
        tv_part_fault(w->draft, link->part, link->key[end],
                      "no cable, fuse or joint leads from %s to a source; did you mean '%s'?", names, near);
      else
        tv_part_fault(w->draft, link->part, link->key[end],
                      "no path from %s%s to a battery or alternator: a cable, fuse or joint is missing there",
                      names, count > 3 ? " and others" : "");
      break;
    }
  }
}

static void name_missing(struct wiring *w, struct link *link) {
  link->open = true;
  bool alternator = link->part->kind == TV_KIND_ALTERNATOR;
  bool minus_alone = others_at(w, link->point[1], link) == 0,
       plus_alone = others_at(w, link->point[0], link) == 0;
  const char *plus = point_name(w, link->point[0]), *minus = point_name(w, link->point[1]);
  const char *hint = alternator ? "engine strap missing?" : "negative lead missing?";
  if (plus_alone && !minus_alone)
    tv_part_fault(w->draft, link->part, link->key[0],
                  "[%s] has no path from its positive '%s': no part joins it (%s)", link->part->id, plus,
                  alternator ? "charge lead missing?" : "its cable missing?");
  else if (minus_alone)
    tv_part_fault(w->draft, link->part, link->key[1],
                  "[%s] has no path back to its negative '%s': no part joins it (%s)", link->part->id, minus,
                  hint);
  else
    tv_part_fault(w->draft, link->part, link->key[1],
                  "[%s] has no closed path from '%s' back to its negative '%s': a cable or strap is missing "
                  "between (%s)",
                  link->part->id, plus, minus, hint);
}

/* Current that leaves a part needs a return path: for a source through the wiring and everything else, for a
 * load through the wiring and a source. */
static void check_return_paths(struct wiring *w) {
  for (int k = 0; k < w->link_count; k++) {
    struct link *link = &w->links[k];
    if ((!link->source && !link->draws) || link->point[0] == link->point[1]) continue;
    clear_groups(w);
    for (int other = 0; other < w->link_count; other++) {
      const struct link *o = &w->links[other];
      if (other != k && (o->conducts || o->source || (link->source && o->draws))) join(w, o);
    }
    if (root(w, link->point[0]) == root(w, link->point[1])) continue;
    if (link->source) {
      name_missing(w, link);
      continue;
    }
    /* an end that no source reaches has its own fault */
    bool fed[2] = {false, false};
    for (int s = 0; s < w->link_count; s++)
      for (int end = 0; end < 2; end++)
        fed[end] =
            fed[end] || (w->links[s].source && root(w, w->links[s].point[0]) == root(w, link->point[end]));
    if (fed[0] && fed[1])
      tv_part_fault(w->draft, link->part, link->key[1],
                    "[%s] lies between two sources that share no ground: no path from '%s' "
                    "back to '%s'",
                    link->part->id, point_name(w, link->point[0]), point_name(w, link->point[1]));
  }
}

/* A closed circuit that nothing ties to the first battery's: its voltage against the rest is undefined. */
static void check_islands(struct wiring *w) {
  clear_groups(w);
  for (int k = 0; k < w->link_count; k++)
    if (w->links[k].part->kind != TV_KIND_METER) join(w, &w->links[k]);
  for (int k = 0; k < w->link_count; k++) {
    struct link *link = &w->links[k];
    int island = root(w, link->point[1]);
    if (!link->source || island == 0) continue;
    bool reported = false;
    for (int other = 0; other < w->link_count; other++)
      reported = reported || (w->links[other].open && root(w, w->links[other].point[1]) == island);
    if (reported) continue;
    link->open = true;
    tv_part_fault(w->draft, link->part, link->key[1],
                  "[%s] and everything connected to it share no ground with the rest: join '%s' to 'ground'",
                  link->part->id, point_name(w, link->point[1]));
  }
}

/* Least resistance from a source's positive to every point through conductors alone. */
static void least_resistances(struct wiring *w, int from) {
  int points = w->system->point_count;
  for (int p = 0; p < points; p++) {
    w->least_ohm[p] = HUGE_VAL;
    w->came_by[p] = -1;
  }
  w->least_ohm[from] = 0.0;
  bool changed = true;
  for (int pass = 0; pass < points && changed; pass++) {
    changed = false;
    for (int k = 0; k < w->link_count; k++) {
      const struct link *link = &w->links[k];
      if (!(link->resistance_ohm >= 0)) continue; /* unknown, or refused already: a negative length */
      for (int end = 0; end < 2; end++) {
        double through_ohm = w->least_ohm[link->point[end]] + link->resistance_ohm;
        if (!(through_ohm < w->least_ohm[link->point[1 - end]])) continue;
        w->least_ohm[link->point[1 - end]] = through_ohm;
        w->came_by[link->point[1 - end]] = k;
        changed = true;
      }
    }
  }
}

/* Reports the path of least resistance just found around a source. A path that shares a part with one
 * reported before is the same mistake and stays silent. */
static void report_short(struct wiring *w, const struct link *source) {
  char names[110] = "";
  int count = 0;
  const struct link *last = source;
  bool again = false;
  for (int at = source->point[1]; at != source->point[0] && w->came_by[at] >= 0; count++) {
    struct link *link = &w->links[w->came_by[at]];
    again = again || link->in_short;
    link->in_short = true;
    last = link;
    size_t used = strlen(names);
    if (count < 3)
      snprintf(names + used, sizeof names - used, "%s[%.40s]", used == 0 ? "" : ", ", last->part->id);
    at = last->point[0] == at ? last->point[1] : last->point[0];
  }
  if (again) return;
  tv_part_fault(
      w->draft, last->part, last->key[1], "%s%s short-circuit%s [%s]: %s mohm from '%.40s' to '%.40s'",
      names, count > 3 ? " and others" : "", count == 1 ? "s" : "", source->part->id,
      tv_significant(1e3 * w->least_ohm[source->point[1]], 3).text, point_name(w, source->point[0]), point_name(w, source->point[1]));
}

/* A path of less than 50 mohm (over 250 A) through conductors alone is a short circuit, not a load. The
 * nearest source is named first. */
static void check_short_circuits(struct wiring *w) {
  const double short_ohm = 0.05;
  for (;;) {
    int nearest = -1;
    double nearest_ohm = short_ohm;
    for (int k = 0; k < w->link_count; k++) {
      const struct link *link = &w->links[k];
      if (!link->source || link->done || link->point[0] == link->point[1]) continue;
      least_resistances(w, link->point[0]);
      if (!(w->least_ohm[link->point[1]] < nearest_ohm)) continue;
      nearest = k;
      nearest_ohm = w->least_ohm[link->point[1]];
    }
    if (nearest < 0) return;
    w->links[nearest].done = true;
    least_resistances(w, w->links[nearest].point[0]);
    report_short(w, &w->links[nearest]);
  }
}

void tv_check_wiring(struct tv_draft *draft, const struct tailvolt_system *system) {
  struct wiring w = {.draft = draft, .system = system};
  size_t points = (size_t)system->point_count;
  w.links = calloc((size_t)draft->part_count + 1, sizeof *w.links);
  w.group = calloc(points, sizeof *w.group);
  w.least_ohm = calloc(points, sizeof *w.least_ohm);
  w.came_by = calloc(points, sizeof *w.came_by);
  if (w.links == NULL || w.group == NULL || w.least_ohm == NULL || w.came_by == NULL) {
    draft->no_memory = true;
  } else {
    collect(&w);
    check_both_ends(&w);
    check_isolators(&w);
    check_reach(&w);
    check_return_paths(&w);
    check_islands(&w);
    check_short_circuits(&w);
  }
  free(w.links);
  free(w.group);
  free(w.least_ohm);
  free(w.came_by);
}
