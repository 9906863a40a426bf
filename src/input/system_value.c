/* One value of the system file, read according to its key's form. */
#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "input/faults.h"
#include "input/system_choices.h"
#include "text/number.h"
#include "text/read_number.h"
#include "input/system_draft.h"
#include "text/text.h"

struct reading {
  const struct tv_place *place;
  const struct tv_key *key;
  const char *name; /* as the user wrote the key */
  char shown[72];   /* the value as the user wrote it, cut for messages */
  struct tv_value *value;
};

void tv_place_fault(const struct tv_place *place, const char *format, ...) {
  if (place->draft->no_memory) return; /* what is missing may be what found no room */
  char key[96], message[TAILVOLT_TEXT_MAX];
  snprintf(key, sizeof key, "%.73s%s%.20s", place->section, place->key == NULL ? "" : ".",
           place->key == NULL ? "" : place->key);
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(message, sizeof message, format, arguments);
  va_end(arguments);
  tv_fault_add(place->draft->faults, place->file, place->line, place->column, key, place->value, "%s", message);
}

/* Reads a range limit from the table; limits are well formed, a test reads them all. */
static double limit(const char *text, enum tv_measure measure) {
  double value = 0.0;
  if (tv_quantity_read(text, strlen(text), measure, &value) != TV_QUANTITY_OK) return (double)NAN;
  return value;
}

/* The whole "key = value" with its decimal comma turned into a point. */
static void comma_fault(const struct reading *r) {
  char better[sizeof r->shown];
  tv_copy_text(better, sizeof better, r->shown);
  for (size_t k = 1; better[k] != '\0'; k++)
    if (better[k] == ',' && isdigit((unsigned char)better[k - 1]) && isdigit((unsigned char)better[k + 1]))
      better[k] = '.';
  tv_place_fault(r->place, "decimal comma in '%s = %s'; write '%s = %s'", r->name, r->shown, r->name, better);
}

/* "W max", "W peak": what sells an amplifier. */
static bool is_peak(const char *unit) {
  static const char *const words[] = {"max", "max.", "maximum", "peak", "pmpo", "burst"};
  const char *last = strrchr(unit, ' ');
  for (size_t k = 0; last != NULL && k < sizeof words / sizeof words[0]; k++)
    if (strcasecmp(last + 1, words[k]) == 0) return true;
  return false;
}

static void quantity_fault(const struct reading *r, enum tv_quantity_status status, const char *piece,
                           enum tv_measure measure, const char *low, const char *high) {
  const char *unit = tv_measure_plain_unit(measure);
  double number = 0.0;
  size_t used = tv_parse_leading_number(piece, strlen(piece), &number);
  const char *rest = piece + used;
  while (*rest == ' ') rest++;
  if (status == TV_QUANTITY_COMMA) {
    comma_fault(r);
  } else if (status == TV_QUANTITY_NO_UNIT) {
    if (measure == TV_SHARE && strcmp(piece, r->shown) == 0 && number > 0.0 && number < 1.0)
      tv_place_fault(r->place, "no unit in '%s = %s'; accepted: %%; is it %s %% or %s %%?", r->name, r->shown,
                     tv_compact(100.0 * number, 4).text, r->shown);
    else if (unit != NULL && strcmp(piece, r->shown) == 0)
      tv_place_fault(r->place, "no unit in '%s = %s'; accepted: %s; write '%s = %s %s'", r->name, r->shown,
                     tv_measure_units(measure), r->name, r->shown, unit);
    else
      tv_place_fault(r->place, "no unit at '%.40s' in '%s = %s'; accepted: %s", piece, r->name, r->shown,
                     tv_measure_units(measure));
  } else if (status == TV_QUANTITY_BAD_UNIT && measure == TV_PLAIN) {
    tv_place_fault(r->place, "'%.30s' after the number in '%s = %s'; accepted: a bare number from %s to %s",
                   rest, r->name, r->shown, low, high);
  } else if (status == TV_QUANTITY_BAD_UNIT && (*rest == 'x' || *rest == 'X') && rest == piece + used) {
    tv_place_fault(r->place, "a hexadecimal number in '%s = %s'; write it in decimal", r->name, r->shown);
  } else if (status == TV_QUANTITY_BAD_UNIT && measure == TV_POWER && is_peak(rest)) {
    tv_place_fault(r->place, "'%.30s' in '%s = %s' is not what it can give for long; write its continuous (RMS) power in W or kW",
                   rest, r->name, r->shown);
  } else if (status == TV_QUANTITY_BAD_UNIT) {
    tv_place_fault(r->place, "'%.30s' is not a unit for '%s = %s'; accepted: %s", rest, r->name, r->shown,
                   tv_measure_units(measure));
  } else {
    tv_place_fault(r->place, "no finite number in '%s = %s'; accepted: %s to %s", r->name, r->shown, low,
                   high);
  }
}

static bool read_in_range(const struct reading *r, const char *piece, enum tv_measure measure,
                          const char *low, const char *high, double *value) {
  enum tv_quantity_status status = tv_quantity_read(piece, strlen(piece), measure, value);
  if (status != TV_QUANTITY_OK) {
    quantity_fault(r, status, piece, measure, low, high);
    return false;
  }
  if (*value < limit(low, measure) || *value > limit(high, measure)) {
    tv_place_fault(r->place, "%.40s is out of range in '%s = %s'; accepted: %s to %s", piece, r->name,
                   r->shown, low, high);
    return false;
  }
  return true;
}

/* Whether a text is what a key takes, or would be with the plain unit, which is then added. */
static bool would_read(const struct tv_key *key, char *text, size_t size) {
  double value = 0.0;
  int awg = 0;
  const char *rest = key->form == TV_FORM_QUANTITY ? text : tv_take_times(text, &value);
  const char *unit = tv_measure_plain_unit(key->measure);
  if (key->form == TV_FORM_SIZE && tv_gauge_read(rest, &awg)) return true;
  enum tv_quantity_status status = tv_quantity_read(rest, strlen(rest), key->measure, &value);
  if (status == TV_QUANTITY_NO_UNIT && unit != NULL && key->form == TV_FORM_QUANTITY) {
    tv_append(text, size, " %s", unit);
    return true;
  }
  return status == TV_QUANTITY_OK;
}

/* "8 AWG CCA", "ANL 80": a word beside the value that is for another key of the section, which is named. */
static bool says_another_key(const struct reading *r, const char *text) {
  size_t count = 0;
  const struct tv_key *keys = tv_system_keys(&count);
  for (size_t k = 0; k < count; k++) {
    if (keys[k].form != TV_FORM_WORD || (keys[k].kinds & r->key->kinds) == 0) continue;
    char rest[TAILVOLT_TEXT_MAX];
    tv_copy_text(rest, sizeof rest, text);
    int index = tv_take_last_word(rest, keys[k].low);
    if (index < 0) index = tv_take_first_word(rest, keys[k].low);
    if (index < 0 || !would_read(r->key, rest, sizeof rest)) continue;
    struct tv_choices c;
    tv_split_choices(keys[k].low, &c);
    size_t first = 0;
    while (c.index[first] != index) first++;
    tv_place_fault(r->place, "'%s = %s' says two things; write '%s = %.40s' and '%s = %s'", r->name, r->shown, r->name, rest,
                   keys[k].name, c.word[first]);
    return true;
  }
  return false;
}

/* "4 x 75 W at 4 ohm" where one value is wanted: another key of the group takes a count. */
static bool counts_for_another_key(const struct reading *r, const char *text) {
  double times = 0.0;
  if (tv_take_times(text, &times) == text || times < 1.0) return false;
  size_t count = 0;
  const struct tv_key *keys = tv_system_keys(&count);
  for (size_t k = 0; k < count; k++) {
    if (r->key->group == 0 || keys[k].group != r->key->group || (keys[k].kinds & r->key->kinds) == 0) continue;
    if (keys[k].form != TV_FORM_CHANNELS && keys[k].form != TV_FORM_STRANDS) continue;
    tv_place_fault(r->place, "'%s = %s' counts several; write '%s = %s'", r->name, r->shown, keys[k].name, r->shown);
    return true;
  }
  return false;
}

static bool is_for_another_key(const struct reading *r, const char *text) {
  char copy[TAILVOLT_TEXT_MAX];
  tv_copy_text(copy, sizeof copy, text);
  return !would_read(r->key, copy, sizeof copy) && (says_another_key(r, text) || counts_for_another_key(r, text));
}

static bool read_quantity(const struct reading *r, const char *text) {
  return read_in_range(r, text, r->key->measure, r->key->low, r->key->high, &r->value->x[0]);
}

static bool read_word(const struct reading *r, const char *text, const char *choices) {
  struct tv_choices c;
  tv_split_choices(choices, &c);
  for (size_t k = 0; k < c.count; k++) {
    if (!tv_words_alike(text, c.word[k])) continue;
    r->value->word = c.index[k];
    for (size_t first = 0; first <= k; first++)
      if (c.index[first] == c.index[k]) {
        tv_copy_text(r->value->text, sizeof r->value->text, c.word[first]);
        break;
      }
    return true;
  }
  const char *near = strlen(text) < 3 ? NULL : tv_nearest_word(text, c.word, c.count);
  if (near != NULL)
    tv_place_fault(r->place, "'%s = %s' is unknown; accepted: %s; did you mean '%s'?", r->name, r->shown,
                   c.list, near);
  else
    tv_place_fault(r->place, "'%s = %s' is unknown; accepted: %s", r->name, r->shown, c.list);
  return false;
}

static bool read_whole(const struct reading *r, const char *text) {
  double number = 0.0;
  if (!tv_parse_number(text, strlen(text), &number) || floor(number) != number ||
      number < limit(r->key->low, TV_PLAIN) || number > limit(r->key->high, TV_PLAIN)) {
    tv_place_fault(r->place, "'%s = %s' is not a whole number from %s to %s", r->name, r->shown, r->key->low,
                   r->key->high);
    return false;
  }
  r->value->x[0] = number;
  return true;
}

static bool read_text(const struct reading *r, const char *text) {
  size_t longest = r->key->form == TV_FORM_POINT || strcmp(r->key->name, "name") == 0 ||
                           strcmp(r->key->name, "programme") == 0
                       ? TAILVOLT_NAME_MAX - 1
                       : TAILVOLT_TEXT_MAX - 1;
  if (strlen(text) > longest) {
    tv_place_fault(r->place, "'%s' is longer than %zu characters", r->name, longest);
    return false;
  }
  bool earth =
      r->key->form == TV_FORM_POINT && (strcasecmp(text, "earth") == 0 || strcasecmp(text, "ground") == 0);
  tv_copy_text(r->value->text, sizeof r->value->text, earth ? "ground" : text);
  return true;
}

static bool read_system(const struct reading *r, const char *text) {
  double volts = 0.0;
  enum tv_quantity_status status = tv_quantity_read(text, strlen(text), TV_VOLTAGE, &volts);
  if (status != TV_QUANTITY_OK) {
    quantity_fault(r, status, text, TV_VOLTAGE, "12 V", "12 V");
    return false;
  }
  if (volts != 12.0) {
    tv_place_fault(r->place, "'%s = %s': only 12 V systems can be simulated", r->name, r->shown);
    return false;
  }
  r->value->x[0] = volts;
  return true;
}

/* The form in which a size is shown, the number of parallel runs in front. */
static void show_size(const struct reading *r, const char *size) {
  if (r->value->y[0] > 1.0)
    snprintf(r->value->text, sizeof r->value->text, "%d x %s", (int)r->value->y[0], size);
  else
    tv_copy_text(r->value->text, sizeof r->value->text, size);
}

static bool read_size(const struct reading *r, const char *whole) {
  enum { THINNEST = 20, THICKEST = -3 };
  int awg = 0;
  double area_m2 = 0.0;
  char size[32];
  const double most = 8.0;
  const char *text = tv_take_times(whole, &r->value->y[0]);
  if (!(r->value->y[0] >= 1.0 && r->value->y[0] <= most) || floor(r->value->y[0]) != r->value->y[0]) {
    tv_place_fault(r->place, "'%s = %s' counts from 1 to 8 parallel runs; write for example '%s = 2 x 4 AWG'",
                   r->name, r->shown, r->name);
    return false;
  }
  if (tv_gauge_read(text, &awg)) {
    if (awg > THINNEST || awg < THICKEST) {
      tv_place_fault(r->place, "'%s = %s' is out of range; accepted: 20 AWG to 4/0 AWG", r->name, r->shown);
      return false;
    }
    r->value->word = 1;
    r->value->x[0] = awg;
    tv_gauge_write(size, sizeof size, awg);
    show_size(r, size);
    return true;
  }
  enum tv_quantity_status status = tv_quantity_read(text, strlen(text), TV_AREA, &area_m2);
  if (status == TV_QUANTITY_NO_UNIT) {
    tv_place_fault(r->place, "no unit in '%s = %s': %s AWG or %s mm2?", r->name, r->shown, r->shown,
                   r->shown);
    return false;
  }
  if (status == TV_QUANTITY_COMMA) {
    comma_fault(r);
    return false;
  }
  if (status != TV_QUANTITY_OK) {
    tv_place_fault(r->place, "'%s = %s' is not a size; accepted: 20 AWG to 4/0 AWG, or %s to %s", r->name,
                   r->shown, r->key->low, r->key->high);
    return false;
  }
  r->value->word = 0;
  if (!read_in_range(r, text, TV_AREA, r->key->low, r->key->high, &r->value->x[0])) return false;
  tv_quantity_write(size, sizeof size, area_m2, TV_AREA, false);
  show_size(r, size);
  return true;
}

static bool read_times(const struct reading *r, const char *text, const char *example, bool needed,
                       double most) {
  double times = 1.0;
  const char *rest = tv_take_times(text, &times);
  if (rest == text && needed) {
    tv_place_fault(r->place, "'%s = %s' is not understood; write for example '%s = %s'", r->name, r->shown,
                   r->name, example);
    return false;
  }
  if (!(times >= 1.0 && times <= most) || floor(times) != times) {
    tv_place_fault(r->place, "'%s = %s' counts from 1 to %s; write for example '%s = %s'", r->name, r->shown,
                   tv_significant(most, 6).text, r->name, example);
    return false;
  }
  r->value->y[0] = times;
  return read_in_range(r, rest, r->key->measure, r->key->low, r->key->high, &r->value->x[0]);
}

/* Position of a word that stands alone in the text, or NULL. */
static char *find_alone(char *text, const char *word) {
  size_t length = strlen(word);
  for (char *at = text; *at != '\0'; at++)
    if (strncasecmp(at, word, length) == 0 && at != text && at[-1] == ' ' && at[length] == ' ') return at;
  return NULL;
}

static bool read_channels(const struct reading *r, const char *text) {
  char copy[TAILVOLT_TEXT_MAX];
  tv_copy_text(copy, sizeof copy, text);
  char *at = find_alone(copy, "at");
  if (at != NULL) {
    double load_ohm = 0.0;
    if (!read_in_range(r, at + 3, TV_RESISTANCE, "0.25 ohm", "64 ohm", &load_ohm)) return false;
    at[-1] = '\0';
  }
  return read_times(r, copy, "4 x 75 W at 4 ohm", true, 32.0);
}

static bool read_engine_size(const struct reading *r, const char *text) {
  char copy[TAILVOLT_TEXT_MAX];
  tv_copy_text(copy, sizeof copy, text);
  r->value->word = tv_take_last_word(copy, "petrol,gasoline|diesel");
  return read_quantity(r, copy);
}

static bool read_cranking(const struct reading *r, const char *text) {
  char copy[TAILVOLT_TEXT_MAX];
  tv_copy_text(copy, sizeof copy, text);
  r->value->word = tv_take_last_word(copy, "EN|SAE,CCA|DIN");
  /* "640 CCA": the test says that these are amperes */
  double number;
  if (r->value->word >= 0 && tv_parse_number(copy, strlen(copy), &number)) tv_append(copy, sizeof copy, " A");
  if (!read_quantity(r, copy)) return false;
  if (r->value->word >= 0) return true;
  tv_place_fault(r->place, "'%s = %s' by which test? accepted: '%s EN', '%s SAE' or '%s DIN'", r->name,
                 r->shown, r->shown, r->shown, r->shown);
  return false;
}

/* Where the next item of a list ends: at a comma that is not inside a number. */
static size_t item_length(const char *text) {
  size_t k = 0;
  while (text[k] != '\0' && !(text[k] == ',' && !(k > 0 && isdigit((unsigned char)text[k - 1]) &&
                                                  isdigit((unsigned char)text[k + 1]))))
    k++;
  return k;
}

static bool read_half(const struct reading *r, const char *from, size_t length, enum tv_measure measure,
                      const char *low, const char *high, double *value) {
  char piece[TAILVOLT_TEXT_MAX];
  snprintf(piece, sizeof piece, "%.*s", (int)length, from);
  char plain[TAILVOLT_TEXT_MAX];
  tv_plain_text(plain, sizeof plain, piece);
  return read_in_range(r, plain, measure, low, high, value);
}

/* Where it is the first value alone, and a key takes that, this key is named. */
static bool pairs_fault(const struct reading *r, const struct tv_key_second *second) {
  double value = 0.0;
  bool alone = second->alone != NULL &&
               tv_quantity_read(r->shown, strlen(r->shown), r->key->measure, &value) == TV_QUANTITY_OK;
  if (alone)
    tv_place_fault(r->place, "'%s = %s' is half of what it takes; write '%s = %s', or for example '%s = %s'", r->name, r->shown,
                   second->alone, r->shown, r->name, second->example);
  else
    tv_place_fault(r->place, "'%s = %s' is not understood; write for example '%s = %s'", r->name, r->shown, r->name,
                   second->example);
  return false;
}

static bool read_pairs(const struct reading *r, enum tv_key_id id, const char *text) {
  struct tv_key_second second = tv_key_second(id);
  int most = id == TV_K_POLARIZATION              ? TAILVOLT_BRANCH_MAX
             : (r->key->flags & TV_KEY_MANY) != 0 ? TAILVOLT_CURVE_MAX
                                                  : 1;
  for (const char *at = text; *at != '\0';) {
    size_t length = item_length(at), split = 0, after = 0;
    if (second.between[0] == ',') {
      if (at[length] != ',') return pairs_fault(r, &second);
      split = length;
      after = length + 1;
      length = after + item_length(at + after);
    } else {
      char word[8];
      snprintf(word, sizeof word, " %.4s ", second.between);
      size_t word_length = strlen(word);
      for (size_t k = 1; k + word_length <= length && split == 0; k++)
        if (strncasecmp(at + k, word, word_length) == 0) split = k;
      if (split == 0) return pairs_fault(r, &second);
      after = split + word_length;
    }
    if (r->value->count >= most) {
      tv_place_fault(r->place, "more than %d value%s for '%s'", most, most == 1 ? "" : "s", r->key->name);
      return false;
    }
    double x = 0.0, y = 0.0;
    if (!read_half(r, at, split, r->key->measure, r->key->low, r->key->high, &x)) return false;
    if (!read_half(r, at + after, length - after, second.measure, second.low, second.high, &y)) return false;
    r->value->x[r->value->count] = x;
    r->value->y[r->value->count++] = y;
    at += length;
    if (*at == ',') at++;
  }
  return true;
}

/* "12.4 V .. 14.8 V", "12.4 .. 14.8 V", "12.4 V to 14.8 V", or one value for both ends. */
static bool read_range(const struct reading *r, const char *text) {
  const char *dots = strstr(text, ".."), *word = strstr(text, " to ");
  if (dots == NULL && word == NULL) {
    if (!read_quantity(r, text)) return false;
    r->value->y[0] = r->value->x[0];
    return true;
  }
  char low[TAILVOLT_TEXT_MAX], high[TAILVOLT_TEXT_MAX];
  const char *split = dots != NULL ? dots : word, *after = split + (dots != NULL ? 2 : 4);
  while (*after == '.' || *after == ' ') after++;
  snprintf(low, sizeof low, "%.*s", (int)(split - text), text);
  tv_squeeze(high, sizeof high, after);
  double number = 0.0;
  size_t used = tv_parse_leading_number(high, strlen(high), &number);
  char plain[TAILVOLT_TEXT_MAX];
  tv_squeeze(plain, sizeof plain, low);
  if (tv_parse_number(plain, strlen(plain), &number)) /* the unit appears once, at the end */
    snprintf(low, sizeof low, "%.200s %.40s", plain, high + used);
  else
    tv_copy_text(low, sizeof low, plain);
  if (!read_in_range(r, low, r->key->measure, r->key->low, r->key->high, &r->value->x[0]) ||
      !read_in_range(r, high, r->key->measure, r->key->low, r->key->high, &r->value->y[0]))
    return false;
  if (r->value->x[0] <= r->value->y[0]) return true;
  tv_place_fault(r->place, "'%s = %s' ends below where it starts; write '%s = %s .. %s'", r->name, r->shown,
                 r->name, high, low);
  return false;
}

static bool read_power_at(const struct reading *r, const char *text) {
  const char *volts = r->name + strlen(r->key->name);
  while (*volts == ' ') volts++;
  if (*volts == '\0') {
    tv_place_fault(r->place, "'%s' lacks its voltage; write for example 'power at 12.5 V = %s'", r->name,
                   r->shown);
    return false;
  }
  if (!read_in_range(r, volts, TV_VOLTAGE, "9 V", "16 V", &r->value->y[0])) return false;
  return read_quantity(r, text);
}

/* A tolerance may be written with its sign: "+-10 %", "+/- 10 %", a plus-minus sign. */
static const char *skip_plus_minus(const char *text) {
  static const char *const signs[] = {"+-", "+/-", "\xC2\xB1"};
  for (size_t k = 0; k < sizeof signs / sizeof signs[0]; k++)
    if (strncmp(text, signs[k], strlen(signs[k])) == 0) {
      text += strlen(signs[k]);
      break;
    }
  while (*text == ' ') text++;
  return text;
}

static bool read_by_form(const struct reading *r, enum tv_key_id id, const char *text) {
  switch (r->key->form) {
  case TV_FORM_QUANTITY:
    if (r->key->kinds == 1u << TV_KIND_TOLERANCE) text = skip_plus_minus(text);
    return !is_for_another_key(r, text) && read_quantity(r, text);
  case TV_FORM_WORD:
    return read_word(r, text, r->key->low);
  case TV_FORM_YES_NO:
    if (!read_word(r, text, "yes,on,true|no,off,false")) return false;
    r->value->word = 1 - r->value->word;
    return true;
  case TV_FORM_WHOLE:
    return read_whole(r, text);
  case TV_FORM_TEXT:
  case TV_FORM_POINT:
    return read_text(r, text);
  case TV_FORM_SYSTEM:
    return read_system(r, text);
  case TV_FORM_SIZE:
    return !is_for_another_key(r, text) && read_size(r, text);
  case TV_FORM_STRANDS:
    return read_times(r, text, "196 x 0.3 mm", true, 100000.0);
  case TV_FORM_ENGINE_SIZE:
    return read_engine_size(r, text);
  case TV_FORM_CRANKING:
    return read_cranking(r, text);
  case TV_FORM_TIMES:
    return read_times(r, text, "2 x 40 A", false, 16.0);
  case TV_FORM_CHANNELS:
    return read_channels(r, text);
  case TV_FORM_RANGE:
    return read_range(r, text);
  case TV_FORM_PAIRS:
    return read_pairs(r, id, text);
  case TV_FORM_POWER_AT:
    return read_power_at(r, text);
  }
  return false;
}

/* Removes the word `measured` from the end of a value. */
static bool take_measured(char *text) {
  static const char word[] = " measured";
  size_t length = strlen(text), word_length = sizeof word - 1;
  if (length <= word_length || strcasecmp(text + length - word_length, word) != 0) return false;
  text[length - word_length] = '\0';
  return true;
}

bool tv_value_read(const struct tv_place *place, enum tv_key_id id, const char *name, const char *text,
                   struct tv_value *value) {
  struct reading r = {.place = place, .key = tv_key_of(id), .name = name, .value = value};
  bool verbatim = r.key->form == TV_FORM_TEXT || r.key->form == TV_FORM_POINT;
  char plain[TAILVOLT_TEXT_MAX];
  if (verbatim)
    tv_squeeze(plain, sizeof plain, text);
  else
    tv_plain_text(plain, sizeof plain, text);
  if (!verbatim) value->measured = take_measured(plain);
  tv_copy_text(r.shown, sizeof r.shown, verbatim ? text : plain);
  tv_copy_text(value->raw, sizeof value->raw, text);
  if (plain[0] == '\0') {
    tv_place_fault(place, "'%s' has no value", name);
    return false;
  }
  if (r.key->form != TV_FORM_PAIRS) value->count = 1;
  if (!read_by_form(&r, id, plain)) return false;
  if (value->text[0] == '\0') tv_copy_text(value->text, sizeof value->text, plain);
  return true;
}
