/* Reading answers as people type them: parts in any order, separated by commas or blanks, decimal commas accepted. An answer
 * is split into words; at each place the longest run of words that a part understands is taken. Units are never guessed. */
#include "input/answers.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "input/quantity.h"
#include "input/system_keys.h"
#include "text/nearest.h"
#include "text/read_number.h"
#include "text/text.h"

enum { WORDS_MAX = 64, RUN_MAX = 8, PIECE_MAX = 64 };

/* Other words for a choice. */
static const struct {
  int question, part, choice;
  const char *word;
} synonyms[] = {
    {TAILVOLT_ASK_CHARGING, 0, TV_CHARGES_PLAIN, "alternator"},
    {TAILVOLT_ASK_CHARGING, 0, TV_CHARGES_PLAIN, "plain alternator"},
    {TAILVOLT_ASK_CHARGING, 0, TV_CHARGES_PLAIN, "belt"},
    {TAILVOLT_ASK_CHARGING, 0, TV_CHARGES_COMPUTER, "computer-controlled"},
    {TAILVOLT_ASK_CHARGING, 0, TV_CHARGES_COMPUTER, "smart"},
    {TAILVOLT_ASK_CHARGING, 0, TV_CHARGES_HYBRID, "electric"},
    {TAILVOLT_ASK_CHARGING, 0, TV_CHARGES_HYBRID, "converter"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_KIND, TAILVOLT_FLOODED, "wet"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_KIND, TAILVOLT_FLOODED, "ordinary"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_KIND, TAILVOLT_FLOODED, "lead-acid"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_KIND, TAILVOLT_LITHIUM_IRON, "lithium"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_KIND, TAILVOLT_LITHIUM_IRON, "LiFePO4"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_PLACE, TAILVOLT_ENGINE_BAY, "under the bonnet"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_PLACE, TAILVOLT_ENGINE_BAY, "under bonnet"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_PLACE, TAILVOLT_ENGINE_BAY, "bonnet"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_PLACE, TAILVOLT_ENGINE_BAY, "hood"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_PLACE, TAILVOLT_BOOT, "trunk"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_PLACE, TAILVOLT_CABIN, "under the seat"},
    {TAILVOLT_ASK_BATTERY, TV_BATTERY_PLACE, TAILVOLT_BED, "load bed"},
    {TAILVOLT_ASK_FEED, TV_FEED_MATERIAL, 0, "OFC"},
    {TAILVOLT_ASK_FEED, TV_FEED_MATERIAL, 1, "CCA"},
    {TAILVOLT_ASK_FEED, TV_FEED_MATERIAL, 1, "clad aluminium"},
    {TAILVOLT_ASK_FEED, TV_FEED_MATERIAL, 1, "clad aluminum"},
    {TAILVOLT_ASK_FEED, TV_FEED_MATERIAL, 1, "copper-clad"},
    {TAILVOLT_ASK_FEED, TV_FEED_MATERIAL, 1, "copper-clad aluminium"},
    {TAILVOLT_ASK_FEED, TV_FEED_MATERIAL, 1, "copper-clad aluminum"},
    {TAILVOLT_ASK_FEED, TV_FEED_STATE, TV_FEED_PLANNED, "not yet"},
    {TAILVOLT_ASK_FEED, TV_FEED_STATE, TV_FEED_PLANNED, "none yet"},
    {TAILVOLT_ASK_FEED, TV_FEED_STATE, TV_FEED_PLANNED, "none"},
    {TAILVOLT_ASK_GROUND, TV_GROUND_PLACE, TV_GROUND_BODY, "sheet metal"},
    {TAILVOLT_ASK_GROUND, TV_GROUND_PLACE, TV_GROUND_BODY, "boot floor"},
    {TAILVOLT_ASK_GROUND, TV_GROUND_PLACE, TV_GROUND_BODY, "floor"},
    {TAILVOLT_ASK_GROUND, TV_GROUND_PLACE, TV_GROUND_BOLT, "seat"},
    {TAILVOLT_ASK_GROUND, TV_GROUND_PLACE, TV_GROUND_FRAME, "chassis"},
    {TAILVOLT_ASK_GROUND, TV_GROUND_PLACE, TV_GROUND_BATTERY, "battery post"},
    {TAILVOLT_ASK_GROUND, TV_GROUND_PLACE, TV_GROUND_BATTERY, "battery negative"},
    {TAILVOLT_ASK_HEADLAMPS, 0, 1, "xenon"},
    {TAILVOLT_ASK_HEADLAMPS, 0, 1, "HID"},
    {TAILVOLT_ASK_USE, 0, TAILVOLT_USE_SHOW, "loud show"},
    {TAILVOLT_ASK_USE, 0, TAILVOLT_USE_SHOW, "a loud show"},
    {TAILVOLT_ASK_USE, 0, TAILVOLT_USE_SHOW, "loud"},
    {TAILVOLT_ASK_USE, 0, TAILVOLT_USE_DAILY, "daily driving"},
    {TAILVOLT_ASK_TODAY, 0, TV_TODAY_DIM, "lights dim"},
    {TAILVOLT_ASK_TODAY, 0, TV_TODAY_CUTS_OUT, "cut out"},
    {TAILVOLT_ASK_TODAY, 0, TV_TODAY_FLAT, "flat battery"},
    {TAILVOLT_ASK_TODAY, 0, TV_TODAY_NOTHING, "nothing yet"}};

/* Words with no meaning here. */
static const char *const fillers[] = {"and", "with", "plus", "+", "&", "a", "an", "the", "about", "approx", "in", "of", "fuse",
                                      "fuses", "fused", "rms", "cont", "continuous", "amplifier", "at", "?", "-", "no"};
/* Words that say nothing in the answer to one question: kinds of an amplifier's own fuse, what is printed on a battery beside its kind. */
static const struct {
  int question;
  const char *word;
} fillers_of[] = {{TAILVOLT_ASK_AMPLIFIERS, "ANL"},      {TAILVOLT_ASK_AMPLIFIERS, "maxi"},     {TAILVOLT_ASK_AMPLIFIERS, "blade"},
                  {TAILVOLT_ASK_BATTERY, "stop-start"}, {TAILVOLT_ASK_BATTERY, "start-stop"}, {TAILVOLT_ASK_BATTERY, "stop"},
                  {TAILVOLT_ASK_BATTERY, "start"}};
static const char *const unknown[] = {"?", "-", "don't know", "dont know", "do not know", "unknown", "not known", "no idea"};

struct word {
  char text[PIECE_MAX];
  bool comma, semicolon; /* precedes it */
};

struct reader {
  int index;
  const struct tailvolt_question *question;
  struct word word[WORDS_MAX];
  int count, at;
  struct tv_answer_set *set;
  char name[TAILVOLT_NAME_MAX]; /* its name, with its power still to come */
  char *piece, *error;
};

enum match { NO_MATCH, MATCH, REFUSED };

static bool fail(struct reader *reader, const char *piece) {
  tv_copy_text(reader->piece, TAILVOLT_TEXT_MAX, piece);
  return false;
}

static bool one_of(const char *text, const char *const *words, size_t count) {
  for (size_t k = 0; k < count; k++)
    if (strcasecmp(text, words[k]) == 0) return true;
  return false;
}

static bool is_digit(char c) {
  return isdigit((unsigned char)c) != 0;
}

/* A comma inside a number becomes a point; one before exactly three digits may separate thousands, and is
 * refused. */
static bool decimal_commas(struct reader *reader, char *text) {
  for (size_t k = 1; text[k] != '\0'; k++) {
    if (text[k] != ',' || !is_digit(text[k - 1]) || !is_digit(text[k + 1])) continue;
    size_t digits = strspn(text + k + 1, "0123456789"), start = k;
    while (start > 0 && is_digit(text[start - 1])) start--;
    if (digits == 3 && text[start] != '0') {
      char number[PIECE_MAX];
      snprintf(number, sizeof number, "%.*s", (int)(k + 4 - start), text + start);
      snprintf(reader->error, TAILVOLT_TEXT_MAX, "'%s' may be %.*s%.3s or %.*s.%.3s; write which", number,
               (int)(k - start), text + start, text + k + 1, (int)(k - start), text + start, text + k + 1);
      return fail(reader, number);
    }
    text[k] = '.';
  }
  return true;
}

static bool cut_into_words(struct reader *reader, const char *text) {
  bool comma = false, semicolon = false;
  while (*text != '\0') {
    size_t separators = strspn(text, " ,;()");
    for (size_t k = 0; k < separators; k++) {
      comma = comma || text[k] == ',';
      semicolon = semicolon || text[k] == ';';
    }
    text += separators;
    size_t length = strcspn(text, " ,;()");
    if (length == 0) break;
    if (reader->count == WORDS_MAX || length >= PIECE_MAX) {
      snprintf(reader->error, TAILVOLT_TEXT_MAX, "the answer is too long; write for example '%s'", reader->question->example);
      return fail(reader, "");
    }
    struct word *word = &reader->word[reader->count++];
    snprintf(word->text, sizeof word->text, "%.*s", (int)length, text);
    if (length > 1 && word->text[length - 1] == ':') word->text[length - 1] = '\0';
    word->comma = comma;
    word->semicolon = semicolon;
    comma = semicolon = false;
    text += length;
  }
  return true;
}

/* The words from `at` to `at + length`, separated by blanks; false where a comma or the end comes first. */
static bool run_of(const struct reader *reader, int length, char *to, size_t size) {
  to[0] = '\0';
  if (reader->at + length > reader->count) return false;
  for (int k = 0; k < length; k++) {
    const struct word *word = &reader->word[reader->at + k];
    if (k > 0 && (word->comma || word->semicolon)) return false;
    tv_append(to, size, "%s%s", k > 0 ? " " : "", word->text);
  }
  return true;
}

static int choice_of(int question, int part, const char *text) {
  const struct tailvolt_answer_part *asked = &tailvolt_question(question)->parts[part];
  for (int k = 0; k < asked->choice_count; k++)
    if (strcasecmp(asked->choices[k].word, text) == 0) return k;
  for (size_t k = 0; k < sizeof synonyms / sizeof synonyms[0]; k++)
    if (synonyms[k].question == question && synonyms[k].part == part && tv_words_alike(synonyms[k].word, text))
      return synonyms[k].choice;
  return -1;
}

/* The system file key whose range applies to a part. */
static enum tv_key_id key_of(int question, int part) {
  switch (question) {
  case TAILVOLT_ASK_AMPLIFIERS: return part == TV_AMPLIFIER_POWER ? TV_K_RATED_POWER : TV_K_ONBOARD_FUSES;
  case TAILVOLT_ASK_ALTERNATOR: return TV_K_RATED_CURRENT;
  case TAILVOLT_ASK_BATTERY: return part == TV_BATTERY_CAPACITY ? TV_K_CAPACITY : TV_K_COLD_CRANKING;
  case TAILVOLT_ASK_PARKED: return TV_K_PARKED;
  case TAILVOLT_ASK_FEED: return part == TV_FEED_SIZE ? TV_K_SIZE : TV_K_LENGTH;
  default: return TV_K_LENGTH;
  }
}

/* "2 x 40 A", "4x75 W": the count, and what follows; 1 and the whole text where there is none. */
static const char *take_times(const char *text, int *times) {
  int number = 0;
  size_t digits = strspn(text, "0123456789");
  *times = 1;
  for (size_t k = 0; k < digits && k < 3; k++) number = 10 * number + (text[k] - '0');
  const char *at = text + digits;
  while (*at == ' ') at++;
  if (digits == 0 || digits > 2 || (*at != 'x' && *at != 'X' && *at != '*')) return text;
  at++;
  while (*at == ' ') at++;
  *times = number;
  return at;
}

/* Removes the word at the end of the text. */
static bool take_last(char *text, const char *word) {
  size_t length = strlen(text), end = strlen(word);
  if (length <= end || strcasecmp(text + length - end, word) != 0) return false;
  length -= end;
  if (text[length - 1] != ' ' && !is_digit(text[length - 1])) return false;
  while (length > 0 && text[length - 1] == ' ') length--;
  text[length] = '\0';
  return true;
}

static enum match in_range(struct reader *reader, enum tv_key_id id, double value, const char *shown) {
  const struct tv_key *key = tv_key_of(id);
  double low = 0.0, high = 0.0;
  if (tv_quantity_read(key->low, strlen(key->low), key->measure, &low) != TV_QUANTITY_OK ||
      tv_quantity_read(key->high, strlen(key->high), key->measure, &high) != TV_QUANTITY_OK || (value >= low && value <= high))
    return MATCH;
  snprintf(reader->error, TAILVOLT_TEXT_MAX, "%.60s is out of range; accepted: %s to %s", shown, key->low, key->high);
  return REFUSED;
}

/* A bare number gets the unit named in the question. */
static enum match read_value(struct reader *reader, int part, const char *text, enum tv_key_id id, struct tv_taken *taken) {
  const struct tailvolt_answer_part *asked = &reader->question->parts[part];
  const struct tv_key *key = tv_key_of(id);
  char whole[2 * PIECE_MAX];
  tv_copy_text(whole, sizeof whole, text);
  enum tv_quantity_status status = tv_quantity_read(whole, strlen(whole), key->measure, &taken->value);
  if (status == TV_QUANTITY_NO_UNIT && asked->plain_unit != NULL) {
    taken->bare = true;
    snprintf(whole, sizeof whole, "%s %s", text, asked->plain_unit);
    status = tv_quantity_read(whole, strlen(whole), key->measure, &taken->value);
    /* cold cranking amps are asked for too */
    const double most_ah = 300.0;
    if (id == TV_K_CAPACITY && taken->value > most_ah) return NO_MATCH;
  }
  if (status != TV_QUANTITY_OK) return NO_MATCH;
  bool never = id == TV_K_PARKED && taken->value == 0.0;
  if (!never && in_range(reader, id, taken->value, whole) == REFUSED) return REFUSED;
  tv_copy_text(taken->text, sizeof taken->text, whole);
  return MATCH;
}

/* "640 A EN", "640 EN", "640 CCA". */
static enum match read_cranking(struct reader *reader, const char *text, struct tv_taken *taken) {
  static const struct {
    const char *word, *standard;
  } tests[] = {{"EN", "EN"}, {"SAE", "SAE"}, {"CCA", "SAE"}, {"DIN", "DIN"}};
  char copy[PIECE_MAX];
  const char *standard = NULL;
  tv_copy_text(copy, sizeof copy, text);
  for (size_t k = 0; k < sizeof tests / sizeof tests[0] && standard == NULL; k++)
    if (take_last(copy, tests[k].word)) standard = tests[k].standard;
  double number = 0.0;
  bool bare = tv_parse_number(copy, strlen(copy), &number);
  if (bare && standard == NULL) return NO_MATCH;
  if (bare) tv_append(copy, sizeof copy, " A");
  enum match match = read_value(reader, TV_BATTERY_CRANKING, copy, TV_K_COLD_CRANKING, taken);
  if (match != MATCH) return match;
  if (standard == NULL) {
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "'%.40s' by which test? accepted: '%.40s EN', '%.40s SAE' (CCA) or '%.40s DIN'",
             text, text, text, text);
    return REFUSED;
  }
  snprintf(taken->text, sizeof taken->text, "%.36s %s", copy, standard);
  return MATCH;
}

/* "800 W", "4 x 75 W", "4 x 75 W at 4 ohm"; for fuses "80 A", "2 x 40 A". */
static enum match read_times(struct reader *reader, int part, const char *text, struct tv_taken *taken) {
  enum { MOST = 32 };
  char copy[PIECE_MAX], load[PIECE_MAX] = "";
  tv_copy_text(copy, sizeof copy, text);
  char *at = strstr(copy, " at ");
  double load_ohm = 0.0;
  if (at != NULL && part == TV_AMPLIFIER_POWER) {
    if (tv_quantity_read(at + 4, strlen(at + 4), TV_RESISTANCE, &load_ohm) != TV_QUANTITY_OK) return NO_MATCH;
    tv_copy_text(load, sizeof load, at);
    *at = '\0';
  }
  int times = 1;
  const char *rest = take_times(copy, &times);
  bool alone = rest == copy;
  if (times < 1 || times > MOST) return NO_MATCH;
  enum match match = read_value(reader, part, rest, key_of(reader->index, part), taken);
  if (match != MATCH) return match;
  char each[sizeof taken->text];
  tv_copy_text(each, sizeof each, taken->text);
  if (!alone) snprintf(taken->text, sizeof taken->text, "%d x %.30s%.12s", times, each, load);
  taken->value *= times;
  return MATCH;
}

static enum match read_size(struct reader *reader, const char *text, struct tv_taken *taken) {
  int times = 1, awg = 0;
  double area_m2 = 0.0;
  const char *rest = take_times(text, &times);
  taken->value = -1.0;
  if (times < 1 || times > 8) return NO_MATCH;
  bool gauge = tv_gauge_read(rest, &awg);
  if (gauge && (awg > 20 || awg < -3)) {
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "%.60s is out of range; accepted: 20 AWG to 4/0 AWG", text);
    return REFUSED;
  }
  if (!gauge) {
    if (tv_quantity_read(rest, strlen(rest), TV_AREA, &area_m2) != TV_QUANTITY_OK) return NO_MATCH;
    if (in_range(reader, TV_K_SIZE, area_m2, text) == REFUSED) return REFUSED;
  }
  tv_copy_text(taken->text, sizeof taken->text, text);
  return MATCH;
}

static enum match read_part(struct reader *reader, int part, const char *text, struct tv_taken *taken) {
  const struct tailvolt_answer_part *asked = &reader->question->parts[part];
  *taken = (struct tv_taken){.given = true, .choice = -1};
  if (asked->kind == TAILVOLT_FORM_CHOICE) {
    taken->choice = choice_of(reader->index, part, text);
    if (taken->choice < 0) return NO_MATCH;
    tv_copy_text(taken->text, sizeof taken->text, asked->choices[taken->choice].word);
    return MATCH;
  }
  if (asked->kind == TAILVOLT_FORM_SIZE) return read_size(reader, text, taken);
  if (reader->index == TAILVOLT_ASK_AMPLIFIERS) return read_times(reader, part, text, taken);
  if (reader->index == TAILVOLT_ASK_BATTERY && part == TV_BATTERY_CRANKING) return read_cranking(reader, text, taken);
  static const char *const never[] = {"none", "never", "no", "nothing"};
  if (reader->index == TAILVOLT_ASK_PARKED && one_of(text, never, sizeof never / sizeof never[0])) text = "0 h";
  return read_value(reader, part, text, key_of(reader->index, part), taken);
}

static bool has_number(const char *text) {
  double number = 0.0;
  return tv_parse_number(text, strlen(text), &number);
}

/* What would be accepted, from what the question asks for. */
static void not_understood(struct reader *reader, const char *text) {
  const char *words[32];
  size_t count = 0;
  char list[120] = "";
  bool number = text[0] != '\0' && (is_digit(text[0]) || text[0] == '-' || text[0] == '.');
  for (int p = 0; p < reader->question->part_count; p++) {
    const struct tailvolt_answer_part *part = &reader->question->parts[p];
    bool choice = part->kind == TAILVOLT_FORM_CHOICE;
    for (int k = 0; choice && k < part->choice_count && count < 32; k++) words[count++] = part->choices[k].word;
    if (number == choice) continue;
    tv_append(list, sizeof list, "%s", list[0] != '\0' ? "; " : "");
    for (int k = 0; choice && k < part->choice_count; k++) tv_append(list, sizeof list, "%s%s", k > 0 ? ", " : "", part->choices[k].word);
    if (!choice) tv_append(list, sizeof list, "%s", part->units);
    if (reader->question->part_count > 1) tv_append(list, sizeof list, " (%s)", part->name);
  }
  const char *near = number ? NULL : tv_nearest_word(text, words, count);
  if (list[0] == '\0')
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "'%.60s' is not understood; write for example '%s'", text,
             reader->question->example);
  else if (number && has_number(text))
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "no unit in '%.60s'; accepted: %s", text, list);
  else if (near != NULL)
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "'%.60s' is not understood; did you mean '%.20s'? accepted: %s", text, near, list);
  else
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "'%.60s' is not understood; accepted: %s", text, list);
}

static struct tv_answer *last_entry(struct reader *reader) {
  return reader->set->count > 0 ? &reader->set->entry[reader->set->count - 1] : NULL;
}

static bool begin_entry(struct reader *reader) {
  if (reader->set->count == TV_ANSWERS_MAX) {
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "at most %d are taken", TV_ANSWERS_MAX);
    return fail(reader, reader->word[reader->at].text);
  }
  struct tv_answer *entry = &reader->set->entry[reader->set->count++];
  *entry = (struct tv_answer){{'\0'}, {{0}}};
  tv_copy_text(entry->name, sizeof entry->name, reader->name);
  reader->name[0] = '\0';
  return true;
}

static bool keep(struct reader *reader, int part, const char *text, const struct tv_taken *taken) {
  struct tv_answer *entry = last_entry(reader);
  bool fresh = entry == NULL || reader->word[reader->at].semicolon;
  if (!fresh && (reader->name[0] != '\0' || entry->part[part].given)) {
    if (!reader->question->several) {
      snprintf(reader->error, TAILVOLT_TEXT_MAX, "'%.60s': the %s is given twice", text, reader->question->parts[part].name);
      return fail(reader, text);
    }
    if (taken->bare) {
      snprintf(reader->error, TAILVOLT_TEXT_MAX, "no unit in '%.60s': watts of a further amplifier, or amps of a fuse?", text);
      return fail(reader, text);
    }
    if (part != 0) {
      snprintf(reader->error, TAILVOLT_TEXT_MAX, "'%.60s' comes before the %s that it goes with; write for example '%s'", text,
               reader->question->parts[0].name, reader->question->example);
      return fail(reader, text);
    }
    fresh = true;
  }
  if (fresh && !begin_entry(reader)) return false;
  last_entry(reader)->part[part] = *taken;
  return true;
}

/* Takes the longest run that a part understands; 0 = none does, -1 = faulty. */
static int take_run(struct reader *reader) {
  char text[RUN_MAX * PIECE_MAX];
  struct tv_taken taken;
  reader->error[0] = '\0';
  for (int length = RUN_MAX; length > 0; length--) {
    if (!run_of(reader, length, text, sizeof text)) continue;
    for (int part = 0; part < reader->question->part_count; part++) {
      enum match match = read_part(reader, part, text, &taken);
      if (match == MATCH) return keep(reader, part, text, &taken) ? length : -1;
      if (match == REFUSED) {
        fail(reader, text);
        return -1;
      }
    }
    if (one_of(text, unknown, sizeof unknown / sizeof unknown[0])) return length;
  }
  return 0;
}

/* A word that no part understands: for amplifiers a name, unless it is a showroom figure. */
static bool take_word(struct reader *reader) {
  static const char *const boasts[] = {"max", "max.", "maximum", "peak", "pmpo", "burst"};
  const char *text = reader->word[reader->at].text;
  if (one_of(text, fillers, sizeof fillers / sizeof fillers[0])) return true;
  for (size_t k = 0; k < sizeof fillers_of / sizeof fillers_of[0]; k++)
    if (fillers_of[k].question == reader->index && tv_words_alike(fillers_of[k].word, text)) return true;
  bool amplifiers = reader->index == TAILVOLT_ASK_AMPLIFIERS;
  if (amplifiers && one_of(text, boasts, sizeof boasts / sizeof boasts[0])) {
    snprintf(reader->error, TAILVOLT_TEXT_MAX,
             "'%s' power is no guide to what it draws; give continuous (RMS) watts, or its fuses alone", text);
    return fail(reader, text);
  }
  size_t plain = strspn(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_'");
  if (amplifiers && isalpha((unsigned char)text[0]) && text[plain] == '\0' && strlen(reader->name) + strlen(text) + 2 < 32) {
    tv_append(reader->name, sizeof reader->name, "%s%s", reader->name[0] != '\0' ? " " : "", text);
    return true;
  }
  /* a number is shown with the word after it, which may be meant as its unit */
  char shown[2 * PIECE_MAX];
  if (!is_digit(text[0]) || !run_of(reader, 2, shown, sizeof shown) || is_digit(reader->word[reader->at + 1].text[0]))
    tv_copy_text(shown, sizeof shown, text);
  not_understood(reader, shown);
  return fail(reader, shown);
}

bool tv_answer_read(int index, const char *answer, struct tv_answer_set *set, char *piece, char *error) {
  char text[8 * TAILVOLT_TEXT_MAX];
  struct reader reader = {.index = index, .question = tailvolt_question(index), .set = set, .piece = piece, .error = error};
  set->count = 0;
  piece[0] = error[0] = '\0';
  if (reader.question == NULL || answer == NULL) return true;
  tv_plain_text(text, sizeof text, answer);
  if (text[0] == '\0' || one_of(text, unknown, sizeof unknown / sizeof unknown[0])) return true;
  if (!decimal_commas(&reader, text) || !cut_into_words(&reader, text)) return false;
  while (reader.at < reader.count) {
    int taken = take_run(&reader);
    if (taken < 0 || (taken == 0 && !take_word(&reader))) {
      set->count = 0;
      return false;
    }
    reader.at += taken > 0 ? taken : 1;
  }
  error[0] = '\0';
  if (reader.name[0] == '\0') return true;
  not_understood(&reader, reader.name);
  set->count = 0;
  return fail(&reader, reader.name);
}

bool tv_answer_part_read(int index, int part, const char *text, struct tv_taken *taken) {
  char piece[TAILVOLT_TEXT_MAX], error[TAILVOLT_TEXT_MAX];
  struct reader reader = {.index = index, .question = tailvolt_question(index), .piece = piece, .error = error};
  return read_part(&reader, part, text, taken) == MATCH;
}

enum tailvolt_status tailvolt_answer_check(int index, const char *answer, char *error) {
  struct tv_answer_set set;
  char piece[TAILVOLT_TEXT_MAX], message[TAILVOLT_TEXT_MAX];
  bool sound = tv_answer_read(index, answer, &set, piece, message);
  if (error != NULL) tv_copy_text(error, TAILVOLT_TEXT_MAX, message);
  return sound ? TAILVOLT_OK : TAILVOLT_BAD_INPUT;
}
