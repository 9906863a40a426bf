#include "report/assumed.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Groups in the order shown. `keys` limits a kind to some of its keys, a blank-separated list that also gives their
 * order; a group without keys takes what is left of its kinds. */
struct group {
  const char *label;
  const char *kinds; /* ",battery," */
  const char *keys;  /* ",state of charge,health," or NULL */
};

static const struct group groups[] = {
    {"battery", ",battery,", ",state of charge,health,cranking health,kind,cold cranking,reserve,"},
    {"battery", ",battery,", NULL},
    {"alternator", ",alternator,", ",low current,set point,pulley ratio,set point drift,"},
    {"alternator", ",alternator,", NULL},
    {"engine", ",engine,", ",idle speed,size,cranking current,breakaway current,cranking time,"},
    {"engine", ",engine,", NULL},
    {"car", ",vehicle,load,", ",base load,charging,ambient,engine bay,"},
    {"car", ",vehicle,load,", NULL},
    {"music", ",programme,", ",crest factor,bass note,tempo,decay,"},
    {"music", ",programme,", NULL},
    {"targets", ",targets,", NULL},
    {"amplifier", ",amplifier,", ",efficiency,supply,topology,cut-out voltage,cut-in voltage,rated voltage,"},
    {"amplifier", ",amplifier,", NULL},
    {"fuse", ",fuse,", ",rating,kind,distance,"},
    {"fuse", ",fuse,", NULL},
    {"others", ",capacitor,isolator,meter,tolerance,", NULL},
    {"cables", ",cable,strap,", ",size,length,strands,conductor diameter,per metre,"},
    {"joints", ",joint,", NULL},
    {"made of", ",cable,strap,", ",material,"},
    {"insulation", ",cable,strap,", ",insulation,"},
    {"laid", ",cable,strap,", ",laid,place,"},
    {"further", ",cable,strap,", NULL},
    {"further", NULL, NULL}};
enum { GROUPS = sizeof groups / sizeof groups[0], LABEL_WIDTH = 12 };

/* Position of `word` in a list such as ",a,b,"; 0 = first, -1 = not there. */
static int place_in(const char *list, const char *word, size_t length) {
  int at = 0;
  for (const char *item = list + 1; *item != '\0'; at++) {
    size_t wide = strcspn(item, ",");
    if (wide == length && strncmp(item, word, length) == 0) return at;
    item += wide + 1;
  }
  return -1;
}

/* The group of an assumption and its place in it. */
static void sort_key(const struct tailvolt_assumption *one, int *group, int *place) {
  const char *dot = strrchr(one->key, '.');
  const char *key = dot == NULL ? "" : dot + 1;
  for (int g = 0; g < GROUPS; g++) {
    *group = g;
    *place = 0;
    if (groups[g].kinds != NULL && place_in(groups[g].kinds, one->key, strcspn(one->key, " .")) < 0) continue;
    if (groups[g].keys != NULL && (*place = place_in(groups[g].keys, key, strlen(key))) < 0) continue;
    return;
  }
}

struct entry {
  const struct tailvolt_assumption *one;
  int group, place, index;
};

/* Joints sort by value, everything else keeps file order. */
static int compare(const void *left, const void *right) {
  const struct entry *a = left, *b = right;
  if (a->group != b->group) return a->group - b->group;
  if (a->place != b->place) return a->place - b->place;
  int by_value = strcmp(groups[a->group].label, "joints") == 0 ? strcmp(a->one->value, b->one->value) : 0;
  return by_value != 0 ? by_value : a->index - b->index;
}

/* Starts a new line where `wide` more columns would not fit; else adds a blank. Returns the column. */
static size_t make_room(struct tv_page *page, size_t start, size_t at, size_t wide) {
  if (at == start) return at;
  if (at + 1 + wide <= tv_page_columns(page)) {
    tv_buffer_fill(&page->text, ' ', 1);
    return at + 1;
  }
  tv_page_newline(page);
  tv_buffer_fill(&page->text, ' ', start);
  return start;
}

/* One setting unbroken; split at blanks only where it is wider than the page. */
static size_t print_setting(struct tv_page *page, const struct tailvolt_assumption *one, size_t start,
                            size_t at) {
  char item[256], clean[256];
  const char *value = one->shown[0] != '\0' ? one->shown : one->value;
  if (page->style.us_units && one->shown_us[0] != '\0') value = one->shown_us;
  snprintf(item, sizeof item, "--set \"%s = %s\"", one->key, value);
  size_t wide = tv_page_clean(page, clean, sizeof clean, item);
  bool whole = start + wide <= tv_page_columns(page);
  for (char *piece = clean; *piece != '\0';) {
    size_t length = whole ? strlen(piece) : strcspn(piece, " ");
    char *next = piece[length] == ' ' ? piece + length + 1 : piece + length;
    piece[length] = '\0';
    wide = tv_columns(piece);
    at = make_room(page, start, at, wide) + wide;
    tv_buffer_add(&page->text, piece);
    piece = next;
  }
  return at;
}

static void print_group(struct tv_page *page, const struct entry *entries, int count, int indent) {
  const char *label = groups[entries[0].group].label;
  size_t start = (size_t)indent + LABEL_WIDTH, at = start;
  tv_buffer_fill(&page->text, ' ', (size_t)indent);
  tv_page_add(page, label);
  tv_buffer_fill(&page->text, ' ', LABEL_WIDTH - strlen(label));
  for (int k = 0; k < count; k++) at = print_setting(page, entries[k].one, start, at);
  tv_page_newline(page);
}

void tv_page_assumed(struct tv_page *page, const struct tailvolt_system *system, int indent) {
  int count = system->assumption_count;
  if (count == 0) return;
  struct entry *entries = malloc((size_t)count * sizeof *entries);
  if (entries == NULL) {
    page->text.failed = true;
    return;
  }
  for (int k = 0; k < count; k++) {
    entries[k] = (struct entry){.one = &system->assumptions[k], .index = k};
    sort_key(entries[k].one, &entries[k].group, &entries[k].place);
  }
  qsort(entries, (size_t)count, sizeof *entries, compare);
  for (int from = 0, to = 0; from < count; from = to) {
    while (to < count && strcmp(groups[entries[to].group].label, groups[entries[from].group].label) == 0)
      to++;
    print_group(page, entries + from, to - from, indent);
  }
  free(entries);
}

/* What moves the answer most, in that order (ranges of cars nobody has measured; practice). `joint` means all of them. */
static const struct {
  const char *section, *key; /* kind of the section, key within it */
  const char *words;         /* what it is, before its value */
} weights[] = {{"vehicle", "base load", "what lights, blower and the rest take: "},
               {"programme", "crest factor", "peaks over average of the music: "},
               {"alternator", "low current", "the alternator at 1800 rpm of its rotor: "},
               {"battery", "state of charge", "the battery's charge: "},
               {"battery", "health", "what is left of the battery's capacity: "},
               {"joint", "resistance", "each joint: "},
               {"alternator", "set point", "charging voltage: "},
               {"battery", "cranking health", "what is left of the battery's cranking current: "},
               {"amplifier", "efficiency", "the amplifier's efficiency: "},
               {"amplifier", "cut-out voltage", "where the amplifier cuts out: "},
               {"amplifier", "internal capacitance", "the amplifier's own storage: "},
               {"vehicle", "engine bay", "air under the bonnet: "},
               {"battery", "cold cranking", "the battery's cold-cranking current: "}};

static const struct tailvolt_assumption *assumed(const struct tailvolt_system *system, const char *section,
                                                 const char *key) {
  for (int k = 0; k < system->assumption_count; k++) {
    const char *full = system->assumptions[k].key, *dot = strrchr(full, '.');
    size_t length = strlen(section);
    if (dot != NULL && strcmp(dot + 1, key) == 0 && strncmp(full, section, length) == 0 &&
        (full[length] == '.' || full[length] == ' '))
      return &system->assumptions[k];
  }
  return NULL;
}

void tv_assumed_sentence(const struct tailvolt_system *system, int most, bool us_units, char *text, size_t size) {
  int said = 0;
  text[0] = '\0';
  for (size_t k = 0; k < sizeof weights / sizeof *weights && said < most; k++) {
    const struct tailvolt_assumption *one = assumed(system, weights[k].section, weights[k].key);
    size_t length = strlen(text);
    if (one == NULL) continue;
    snprintf(text + length, size - length, "%s%s%s", said > 0 ? ", " : "", weights[k].words,
             us_units && one->shown_us[0] != '\0' ? one->shown_us : one->value);
    said++;
  }
}
