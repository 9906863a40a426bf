/* The system file made from answers, and what they say besides. Unknowns are left to the standard car, which lists
 * them as assumed; what a file must hold is written with its usual value, and marked. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "input/answers.h"
#include "input/faults.h"
#include "text/buffer.h"
#include "text/number.h"
#include "text/text.h"

/* For an amplifier of which only the fuses are known: they carry its highest draw. */
static const double FUSED_EFFICIENCY_FRAC = 0.8, FUSED_V = 13.5;
/* Daily driving lies 6 to 20 dB below the loudest unclipped level (common practice). */
static const double DAILY_DB = -10.0;

struct answers {
  struct tv_answer_set set[TAILVOLT_QUESTIONS];
  bool hybrid;
};

struct writer {
  const struct answers *answers;
  struct tv_buffer text;
};

static bool read_all(const char *const *answers, int count, struct answers *to, struct tailvolt_faults *faults) {
  bool sound = true;
  for (int k = 0; k < TAILVOLT_QUESTIONS; k++) {
    char piece[TAILVOLT_TEXT_MAX], error[TAILVOLT_TEXT_MAX];
    if (tv_answer_read(k, k < count ? answers[k] : NULL, &to->set[k], piece, error)) continue;
    sound = false;
    if (faults != NULL) tv_fault_add(faults, "answers", k + 1, 0, tailvolt_question(k)->name, piece, "%s", error);
  }
  const struct tv_answer_set *charging = &to->set[TAILVOLT_ASK_CHARGING];
  to->hybrid = charging->count > 0 && charging->entry[0].part[0].choice == TV_CHARGES_HYBRID;
  return sound;
}

/* A part of the answer, else what "don't know" means; `given` says which. */
static struct tv_taken part_of(const struct answers *answers, int question, int part) {
  const struct tv_answer_set *set = &answers->set[question];
  if (set->count > 0 && set->entry[0].part[part].given) return set->entry[0].part[part];
  const struct tailvolt_answer_part *asked = &tailvolt_question(question)->parts[part];
  const char *unknown = answers->hybrid && asked->unknown_hybrid != NULL ? asked->unknown_hybrid : asked->unknown;
  struct tv_taken taken = {.choice = -1};
  if (unknown[0] != '\0' && !tv_answer_part_read(question, part, unknown, &taken)) taken = (struct tv_taken){.choice = -1};
  taken.given = false;
  return taken;
}

static bool known(const struct answers *answers, int question, int part) {
  const struct tv_answer_set *set = &answers->set[question];
  return set->count > 0 && set->entry[0].part[part].given;
}

static void add(struct writer *w, const char *text) {
  tv_buffer_add(&w->text, text);
}

static void section(struct writer *w, const char *kind, const char *name) {
  add(w, "\n[");
  add(w, kind);
  if (name[0] != '\0') add(w, " ");
  add(w, name);
  add(w, "]\n");
}

/* "key = value", with the comment in its own column. */
static void line(struct writer *w, const char *key, const char *value, const char *comment) {
  enum { COMMENT_AT = 32 };
  add(w, key);
  add(w, " = ");
  add(w, value);
  if (comment[0] != '\0') {
    size_t length = strlen(key) + 3 + strlen(value);
    tv_buffer_fill(&w->text, ' ', length < COMMENT_AT ? COMMENT_AT - length : 2);
    add(w, "# ");
    add(w, comment);
  }
  add(w, "\n");
}

/* A value that the file must hold: with its usual range where it is not known. */
static void needed(struct writer *w, int question, int part, const char *key) {
  const struct tailvolt_answer_part *asked = &tailvolt_question(question)->parts[part];
  struct tv_taken taken = part_of(w->answers, question, part);
  char comment[TAILVOLT_TEXT_MAX] = "";
  if (!taken.given && asked->range[0] != '\0') snprintf(comment, sizeof comment, "not known; usual: %s", asked->range);
  else if (!taken.given) snprintf(comment, sizeof comment, "not known");
  line(w, key, taken.text, comment);
}

/* A value that the standard car has: written where known, else a comment says what is assumed. */
static void optional(struct writer *w, int question, int part, const char *key, const char *assumed) {
  struct tv_taken taken = part_of(w->answers, question, part);
  if (known(w->answers, question, part)) {
    line(w, key, taken.text, "");
    return;
  }
  add(w, "# ");
  add(w, key);
  add(w, ": not known; assumed: ");
  add(w, assumed[0] != '\0' ? assumed : taken.text);
  if (tailvolt_question(question)->parts[part].range[0] != '\0') {
    add(w, " (usual: ");
    add(w, tailvolt_question(question)->parts[part].range);
    add(w, ")");
  }
  add(w, "\n");
}

static void write_vehicle(struct writer *w) {
  const struct answers *answers = w->answers;
  struct tv_taken charging = part_of(answers, TAILVOLT_ASK_CHARGING, 0), lamps = part_of(answers, TAILVOLT_ASK_HEADLAMPS, 0);
  section(w, "vehicle", "");
  if (charging.choice == TV_CHARGES_COMPUTER) line(w, "charging", "computer", "the engine's computer moves the set point");
  else if (charging.choice == TV_CHARGES_HYBRID) line(w, "charging", "converter", "a converter from the high-voltage battery");
  else line(w, "charging", "belt", charging.given ? "a plain alternator" : "not known; a plain alternator");
  if (lamps.given) line(w, "headlamps", lamps.text, "");
  else add(w, "# headlamps: not known; judged as if halogen\n");
  if (charging.choice == TV_CHARGES_HYBRID) {
    section(w, "converter", "");
    needed(w, TAILVOLT_ASK_ALTERNATOR, 0, "rated current");
    return;
  }
  section(w, "alternator", "");
  needed(w, TAILVOLT_ASK_ALTERNATOR, 0, "rated current");
  if (charging.choice == TV_CHARGES_COMPUTER) line(w, "set point", "12.4 V .. 14.8 V", "judged at the low end (common practice)");
}

/* What the standard car has anyway stays out of the file, so it is listed as assumed. */
static void write_battery(struct writer *w) {
  const struct answers *answers = w->answers;
  section(w, "battery", "");
  needed(w, TAILVOLT_ASK_BATTERY, TV_BATTERY_CAPACITY, "capacity");
  optional(w, TAILVOLT_ASK_BATTERY, TV_BATTERY_CRANKING, "cold cranking", "9 A EN for each Ah");
  for (int part = TV_BATTERY_KIND; part <= TV_BATTERY_PLACE; part++) {
    const char *key = part == TV_BATTERY_KIND ? "kind" : "place";
    if (answers->hybrid) needed(w, TAILVOLT_ASK_BATTERY, part, key);
    else optional(w, TAILVOLT_ASK_BATTERY, part, key, "");
  }
  struct tv_taken place = part_of(answers, TAILVOLT_ASK_BATTERY, TV_BATTERY_PLACE);
  struct tv_taken kind = part_of(answers, TAILVOLT_ASK_BATTERY, TV_BATTERY_KIND);
  bool inside = place.choice == TAILVOLT_BOOT || place.choice == TAILVOLT_CABIN;
  if (inside && kind.choice != TAILVOLT_LITHIUM_IRON)
    add(w, "# vented = yes                  # once its hose to the outside has been seen\n");
}

/* Names already taken by sections of the standard car. */
static void name_of(const struct tv_answer_set *set, int k, char *to, size_t size) {
  static const char *const taken[] = {"feed", "amplifier feed", "ground lead", "amplifier ground", "main"};
  tv_copy_text(to, size, set->entry[k].name);
  if (to[0] == '\0') snprintf(to, size, set->count == 1 ? "amplifier" : "amplifier %d", k + 1);
  for (size_t t = 0; t < sizeof taken / sizeof taken[0]; t++)
    if (strcasecmp(to, taken[t]) == 0) tv_append(to, size, " amplifier");
  for (int other = 0; other < k; other++) {
    char before[TAILVOLT_NAME_MAX];
    name_of(set, other, before, sizeof before);
    if (strcasecmp(before, to) == 0) tv_append(to, size, " %d", k + 1);
  }
}

static void write_amplifier(struct writer *w, const struct tv_answer *entry, const char *name, bool daily) {
  const struct tailvolt_answer_part *power = &tailvolt_question(TAILVOLT_ASK_AMPLIFIERS)->parts[TV_AMPLIFIER_POWER];
  const struct tv_taken *watts = &entry->part[TV_AMPLIFIER_POWER], *fuses = &entry->part[TV_AMPLIFIER_FUSES];
  char value[64], comment[TAILVOLT_TEXT_MAX];
  section(w, "amplifier", name);
  if (watts->given) {
    line(w, strstr(watts->text, " x ") != NULL ? "channels" : "rated power", watts->text, "continuous (RMS)");
  } else if (fuses->given) {
    snprintf(value, sizeof value, "%s W",
             tv_significant(fmin(30000.0, fuses->value * FUSED_V * FUSED_EFFICIENCY_FRAC), 3).text);
    line(w, "rated power", value, "not known; the most that its fuses would bear");
  } else {
    snprintf(comment, sizeof comment, "not known; usual: %s", power->range);
    line(w, "rated power", power->unknown, comment);
  }
  if (fuses->given) line(w, "onboard fuses", fuses->text, "");
  snprintf(value, sizeof value, "%s dB", tv_significant(DAILY_DB, 3).text);
  if (daily) line(w, "level offset", value, "daily driving; 0 dB = as loud as it goes unclipped");
}

static void write_amplifiers(struct writer *w) {
  const struct tv_answer_set *set = &w->answers->set[TAILVOLT_ASK_AMPLIFIERS];
  bool daily = part_of(w->answers, TAILVOLT_ASK_USE, 0).choice == TAILVOLT_USE_DAILY;
  static const struct tv_answer nothing;
  if (set->count == 0) write_amplifier(w, &nothing, "amplifier", daily);
  for (int k = 0; k < set->count; k++) {
    char name[TAILVOLT_NAME_MAX];
    name_of(set, k, name, sizeof name);
    write_amplifier(w, &set->entry[k], name, daily);
  }
}

static void write_material(struct writer *w) {
  struct tv_taken material = part_of(w->answers, TAILVOLT_ASK_FEED, TV_FEED_MATERIAL);
  if (!material.given) add(w, "# material: not known; assumed: copper\n");
  else line(w, "material", material.choice == 1 ? "clad aluminium" : "copper", "");
}

static void write_feed(struct writer *w) {
  struct tv_taken state = part_of(w->answers, TAILVOLT_ASK_FEED, TV_FEED_STATE);
  section(w, "cable", "feed");
  if (state.choice == TV_FEED_PLANNED && !known(w->answers, TAILVOLT_ASK_FEED, TV_FEED_SIZE))
    add(w, "# size: not laid yet; the smallest that does is chosen\n");
  else
    needed(w, TAILVOLT_ASK_FEED, TV_FEED_SIZE, "size");
  needed(w, TAILVOLT_ASK_FEED, TV_FEED_LENGTH, "length");
  write_material(w);
}

/* A ground at the battery's post has a lead as long and as thick as the feed. */
static void write_ground(struct writer *w) {
  const struct answers *answers = w->answers;
  struct tv_taken place = part_of(answers, TAILVOLT_ASK_GROUND, TV_GROUND_PLACE);
  if (place.choice == TV_GROUND_BOLT) {
    section(w, "joint", "body stud");
    line(w, "resistance", "1 mohm", "a seat's bolt has paint or thread lock under it; a bare stud: 0.3 mohm");
  }
  section(w, "cable", "ground lead");
  if (place.choice == TV_GROUND_BATTERY) {
    line(w, "from", "ground lead start", "");
    line(w, "to", "ground", "the battery's negative post");
    struct tv_taken size = part_of(answers, TAILVOLT_ASK_FEED, TV_FEED_SIZE);
    line(w, "size", size.text, "as the feed");
    if (known(answers, TAILVOLT_ASK_GROUND, TV_GROUND_LENGTH)) needed(w, TAILVOLT_ASK_GROUND, TV_GROUND_LENGTH, "length");
    else line(w, "length", part_of(answers, TAILVOLT_ASK_FEED, TV_FEED_LENGTH).text, "not known; as the feed");
    write_material(w);
    return;
  }
  if (!place.given) add(w, "# bolted to: not known; assumed: bare metal of the body\n");
  if (place.choice == TV_GROUND_FRAME) add(w, "# bolted to the frame, which is taken to carry current as a body does\n");
  optional(w, TAILVOLT_ASK_GROUND, TV_GROUND_LENGTH, "length", "");
}

static void write_targets(struct writer *w) {
  struct tv_taken parked = part_of(w->answers, TAILVOLT_ASK_PARKED, 0);
  if (!(parked.value > 0.0)) return;
  section(w, "targets", "");
  line(w, "parked", parked.text, "wanted playing time, engine off");
}

enum tailvolt_status tailvolt_answers_system(const char *const *answers, int count, char **text,
                                             struct tailvolt_faults *faults) {
  *text = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_answers_system(answers, count, text, faults));
  faults->count = faults->dropped = 0;
  struct answers *read = calloc(1, sizeof *read);
  struct writer writer = {.answers = read};
  if (read == NULL) return TAILVOLT_NO_MEMORY;
  if (!read_all(answers, count, read, faults)) {
    free(read);
    return TAILVOLT_BAD_INPUT;
  }
  add(&writer, "# Written from the answers to ten questions. \"not known\": replace it once you know better; what the file\n"
               "# does not name is the standard car's, listed by `tailvolt check`.\n");
  write_vehicle(&writer);
  write_battery(&writer);
  write_amplifiers(&writer);
  write_feed(&writer);
  write_ground(&writer);
  write_targets(&writer);
  free(read);
  return tv_buffer_finish(&writer.text, text);
}

/* What to look at first, for each trouble. */
static const struct {
  unsigned trouble;
  const char *look;
} looks[] = {
    {TAILVOLT_TROUBLE_DIM, "Lights dim: see LIGHTS (left out where under 2 % or LED), then the volts at the battery's posts "
                           "on a beat; what is lost before the posts is charging and battery, what is lost behind them is "
                           "the feed and ground."},
    {TAILVOLT_TROUBLE_CUTS_OUT, "Cuts out: measure at the amplifier's own terminals with min-hold, then feed and ground by "
                                "themselves; a poor ground or joint is the usual cause."},
    {TAILVOLT_TROUBLE_FLAT, "Flat battery: see CHARGE, then clamp what the locked car draws (30 mA is usual) and rest the "
                            "battery overnight: its volts say how full it got."}};

void tailvolt_answers_aside(const char *const *answers, int count, struct tailvolt_aside *aside) {
  struct answers *read = calloc(1, sizeof *read);
  *aside = (struct tailvolt_aside){.use = TAILVOLT_USE_SHOW, .profile = "idle-night-rain.csv", .parked_s = (double)NAN};
  if (read == NULL) return;
  read_all(answers, count, read, NULL);
  if (part_of(read, TAILVOLT_ASK_USE, 0).choice == TAILVOLT_USE_DAILY) {
    aside->use = TAILVOLT_USE_DAILY;
    aside->level_db = DAILY_DB;
    aside->profile = "town-night-rain.csv";
  }
  double parked_s = part_of(read, TAILVOLT_ASK_PARKED, 0).value;
  if (parked_s > 0.0) aside->parked_s = parked_s;
  const struct tv_answer_set *today = &read->set[TAILVOLT_ASK_TODAY];
  for (int k = 0; k < today->count; k++) {
    int choice = today->entry[k].part[0].choice;
    if (choice != TV_TODAY_NOTHING) aside->troubles |= 1u << choice;
  }
  for (size_t k = 0; k < sizeof looks / sizeof looks[0]; k++)
    if ((aside->troubles & looks[k].trouble) != 0)
      tv_append(aside->look_first, sizeof aside->look_first, "%s%s", aside->look_first[0] != '\0' ? " " : "", looks[k].look);
  free(read);
}
