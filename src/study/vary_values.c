/* Lists and ranges of values, as a variation names them. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/system_edit.h"
#include "input/system_keys.h"
#include "text/read_number.h"
#include "text/number.h"
#include "tailvolt/vary.h"

/* A piece of the user's text. */
struct piece {
  const char *at;
  size_t length;
};

static struct piece trimmed(const char *from, const char *to) {
  while (from < to && (*from == ' ' || *from == '\t')) from++;
  while (to > from && (to[-1] == ' ' || to[-1] == '\t')) to--;
  return (struct piece){from, (size_t)(to - from)};
}

static const char *find(struct piece in, const char *word) {
  size_t length = strlen(word);
  for (size_t k = 0; k + length <= in.length; k++)
    if (memcmp(in.at + k, word, length) == 0) return in.at + k;
  return NULL;
}

/* A number, the unit after it and the digits after its point. */
struct amount {
  double value;
  struct piece unit;
  int digits;
};

static bool read_amount(struct piece from, struct amount *amount) {
  size_t took = tv_parse_leading_number(from.at, from.length, &amount->value);
  const char *point;
  if (took == 0) return false;
  amount->unit = trimmed(from.at + took, from.at + from.length);
  amount->digits = 0;
  if ((point = memchr(from.at, '.', took)) != NULL)
    for (point++; point < from.at + took && *point >= '0' && *point <= '9'; point++) amount->digits++;
  /* "1/0 AWG" is a name, not a number */
  return amount->unit.length == 0 || amount->unit.at[0] != '/';
}

static bool same_unit(const struct amount *a, const struct amount *b) {
  return a->unit.length == b->unit.length && memcmp(a->unit.at, b->unit.at, a->unit.length) == 0;
}

/* Bytes of the number at the start of a value, 0 where there is none. "1/0" is one, as cables are named. */
static size_t number_length(struct piece value) {
  double number;
  size_t took = tv_parse_leading_number(value.at, value.length, &number);
  if (took > 0 && took < value.length && value.at[took] == '/')
    for (took++; took < value.length && value.at[took] >= '0' && value.at[took] <= '9';) took++;
  return took;
}

static bool is_bare(struct piece value) { return value.length > 0 && number_length(value) == value.length; }

/* What stands behind the number; empty where that is no unit: a unit holds no number of its own, as "x 4 AWG" does. */
static struct piece unit_of(struct piece value) {
  static const struct piece none = {"", 0};
  size_t took = number_length(value);
  if (took == 0) return none;
  struct piece unit = trimmed(value.at + took, value.at + value.length);
  for (size_t k = 1; k < unit.length; k++)
    if (unit.at[k - 1] == ' ' && unit.at[k] >= '0' && unit.at[k] <= '9') return none;
  return unit;
}

/* The pieces of "FIRST .. LAST step STEP"; FIRST alone where the value is no range. What is not there is empty. */
struct range {
  struct piece first, last, step;
};

static struct range parts_of(struct piece value) {
  struct range parts = {value, {"", 0}, {"", 0}};
  const char *end = value.at + value.length, *dots = find(value, "..");
  if (dots == NULL) return parts;
  parts.first = trimmed(value.at, dots);
  parts.last = trimmed(dots + 2, end);
  const char *word = find(parts.last, "step");
  if (word == NULL) return parts;
  parts.step = trimmed(word + 4, end);
  parts.last = trimmed(parts.last.at, word);
  return parts;
}

/* The next value of a list; *list moves behind it, to NULL after the last. */
static struct piece next_value(const char **list, char separator) {
  const char *from = *list, *end = strchr(from, separator);
  *list = end != NULL ? end + 1 : NULL;
  return trimmed(from, end != NULL ? end : from + strlen(from));
}

/* The unit that is stated once for all: behind the last number of the list, with none behind any before it. */
static struct piece unit_for_all(const char *list, char separator) {
  static const struct piece none = {"", 0};
  struct piece unit = none;
  while (list != NULL) {
    struct range parts = parts_of(next_value(&list, separator));
    const struct piece each[] = {parts.first, parts.last, parts.step};
    for (size_t k = 0; k < sizeof each / sizeof each[0]; k++) {
      if (each[k].length == 0) continue;
      if (unit.length > 0) return none; /* one before has its own */
      if (!is_bare(each[k])) unit = unit_of(each[k]);
      if (!is_bare(each[k]) && unit.length == 0) return none;
    }
  }
  return unit;
}

static bool add_value(struct tailvolt_vary_key *key, const char *text, size_t length) {
  char(*grown)[TAILVOLT_VARY_TEXT_MAX] = realloc(key->values, ((size_t)key->value_count + 1) * sizeof *grown);
  if (grown == NULL) return false;
  key->values = grown;
  snprintf(grown[key->value_count++], sizeof *grown, "%.*s", (int)length, text);
  return true;
}

static enum tailvolt_status add_range(struct tailvolt_vary_key *key, struct piece range, struct piece for_all,
                                      struct tailvolt_faults *faults) {
  struct range parts = parts_of(range);
  char shown[TAILVOLT_VARY_TEXT_MAX], value[TAILVOLT_VARY_TEXT_MAX];
  struct amount from, to, step;
  snprintf(shown, sizeof shown, "%.*s", (int)range.length, range.at);
  if (find(range, "step") == NULL) {
    tv_fault_add(faults, "vary", 0, 0, key->key, shown,
                 "a range needs its step, such as `1 m .. 8 m step 1 m`");
    return TAILVOLT_OK;
  }
  if (!read_amount(parts.first, &from) || !read_amount(parts.last, &to) || !read_amount(parts.step, &step)) {
    tv_fault_add(
        faults, "vary", 0, 0, key->key, shown,
        "a range is made of numbers with their unit, such as `1 m .. 8 m step 1 m`; write others as a list");
    return TAILVOLT_OK;
  }
  if (to.unit.length == 0) to.unit = for_all;
  if (from.unit.length == 0) from.unit = to.unit;
  if (step.unit.length == 0) step.unit = to.unit;
  if (!same_unit(&from, &to) || !same_unit(&step, &to)) {
    tv_fault_add(faults, "vary", 0, 0, key->key, shown,
                 "start, end and step of a range are wanted in the same unit");
    return TAILVOLT_OK;
  }
  double span = to.value - from.value, each = fabs(step.value);
  double steps = each > 0.0 ? floor(fabs(span) / each + 1e-9) : HUGE_VAL;
  if (!(steps < (double)TAILVOLT_VARY_ROWS)) {
    tv_fault_add(faults, "vary", 0, 0, key->key, shown, "the step is too small: at most %ld values",
                 TAILVOLT_VARY_ROWS);
    return TAILVOLT_OK;
  }
  int digits = from.digits > step.digits ? from.digits : step.digits;
  for (long k = 0; k <= (long)steps; k++) {
    struct tv_number number =
        tv_fixed(from.value + (span < 0.0 ? -each : each) * (double)k, digits < 12 ? digits : 12);
    snprintf(value, sizeof value, "%s%s%.*s", number.text, to.unit.length > 0 ? " " : "", (int)to.unit.length,
             to.unit.at);
    if (!add_value(key, value, strlen(value))) return TAILVOLT_NO_MEMORY;
  }
  return TAILVOLT_OK;
}

/* Whether a single value of a key may be written `A .. B` (a set point that moves); a key that does not exist is told of later. */
static bool is_swing(const char *key) {
  struct tv_setting setting;
  char text[TAILVOLT_VARY_TEXT_MAX + 8];
  snprintf(text, sizeof text, "%s = 1", key);
  return tv_setting_split(text, &setting) == NULL && setting.id < TV_KEY_COUNT && tv_key_of(setting.id)->form == TV_FORM_RANGE;
}

/* What a unit that is stated for all is put behind: a number alone, or `A .. B` where B is one. */
static bool takes_unit(struct piece value) {
  struct range parts = parts_of(value);
  return is_bare(parts.last.length > 0 ? parts.last : parts.first);
}

static bool is_there(const struct tailvolt_vary_key *key, struct piece value) {
  for (int k = 0; k < key->value_count; k++)
    if (strlen(key->values[k]) == value.length && memcmp(key->values[k], value.at, value.length) == 0)
      return true;
  return false;
}

static enum tailvolt_status read_values(struct tailvolt_vary_key *key, const char *list,
                                        struct tailvolt_faults *faults) {
  char separator = strchr(list, '|') != NULL ? '|' : ',';
  struct piece for_all = unit_for_all(list, separator);
  bool swing = is_swing(key->key);
  enum tailvolt_status status = TAILVOLT_OK;
  while (list != NULL && status == TAILVOLT_OK) {
    struct piece value = next_value(&list, separator);
    bool bare = for_all.length > 0 && takes_unit(value);
    size_t length = value.length + (bare ? 1 + for_all.length : 0);
    char shown[TAILVOLT_VARY_TEXT_MAX];
    snprintf(shown, sizeof shown, "%.*s%s%.*s", (int)value.length, value.at, bare ? " " : "", bare ? (int)for_all.length : 0,
             for_all.at);
    if (value.length == 0)
      tv_fault_add(faults, "vary", 0, 0, key->key, NULL, "a value is missing");
    else if (length >= TAILVOLT_VARY_TEXT_MAX)
      tv_fault_add(faults, "vary", 0, 0, key->key, shown, "is too long: at most %d bytes",
                   TAILVOLT_VARY_TEXT_MAX - 1);
    else if (find(value, "..") != NULL && !(swing && find(value, "step") == NULL))
      status = add_range(key, value, for_all, faults);
    else if (is_there(key, (struct piece){shown, length}))
      tv_fault_add(faults, "vary", 0, 0, key->key, shown, "appears twice in the list");
    else if (!add_value(key, shown, length))
      status = TAILVOLT_NO_MEMORY;
  }
  return status;
}

static enum tailvolt_status read_key(struct tailvolt_variation *variation, const char *text,
                                     struct tailvolt_faults *faults) {
  const char *equals = strchr(text, '=');
  struct piece name = trimmed(text, equals != NULL ? equals : text + strlen(text));
  struct tailvolt_vary_key *key = &variation->keys[variation->key_count];
  if (equals == NULL || name.length == 0 || memchr(name.at, '.', name.length) == NULL) {
    tv_fault_add(faults, "vary", 0, 0, NULL, text, "is not of the form SECTION.KEY = VALUE, VALUE");
    return TAILVOLT_OK;
  }
  if (name.length >= sizeof key->key) {
    tv_fault_add(faults, "vary", 0, 0, NULL, text, "the key is too long: at most %zu bytes",
                 sizeof key->key - 1);
    return TAILVOLT_OK;
  }
  snprintf(key->key, sizeof key->key, "%.*s", (int)name.length, name.at);
  for (int k = 0; k < variation->key_count; k++)
    if (strcmp(variation->keys[k].key, key->key) == 0)
      tv_fault_add(faults, "vary", 0, 0, key->key, NULL, "is varied twice; give all its values in one list");
  variation->key_count++;
  return read_values(key, equals + 1, faults);
}

enum tailvolt_status tailvolt_variation_parse(const char *const *texts, int count,
                                              struct tailvolt_variation **out,
                                              struct tailvolt_faults *faults) {
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_variation_parse(texts, count, out, faults));
  faults->count = faults->dropped = 0;
  struct tailvolt_variation *variation = calloc(1, sizeof *variation);
  enum tailvolt_status status = variation != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK && (count < 1 || count > TAILVOLT_VARY_KEYS))
    tv_fault_add(faults, "vary", 0, 0, NULL, NULL, "one to %d keys can be varied at once, not %d",
                 TAILVOLT_VARY_KEYS, count);
  for (int k = 0; k < count && count <= TAILVOLT_VARY_KEYS && status == TAILVOLT_OK; k++)
    status = read_key(variation, texts[k], faults);
  if (status == TAILVOLT_OK && faults->count == 0) {
    variation->row_count = 1;
    for (int k = 0; k < variation->key_count && faults->count == 0; k++) {
      if (variation->keys[k].value_count > TAILVOLT_VARY_ROWS / variation->row_count)
        tv_fault_add(faults, "vary", 0, 0, NULL, NULL, "more than %ld combinations", TAILVOLT_VARY_ROWS);
      else
        variation->row_count *= variation->keys[k].value_count;
    }
  }
  if (status == TAILVOLT_OK && faults->count > 0) status = TAILVOLT_BAD_INPUT;
  if (status == TAILVOLT_OK)
    *out = variation;
  else
    tailvolt_variation_free(variation);
  return status;
}

void tailvolt_variation_free(struct tailvolt_variation *variation) {
  if (variation == NULL) return;
  for (int k = 0; k < variation->key_count; k++) free(variation->keys[k].values);
  free(variation);
}

const char *tailvolt_variation_value(const struct tailvolt_variation *variation, long row, int key) {
  for (int k = variation->key_count - 1; k > key; k--) row /= variation->keys[k].value_count;
  return variation->keys[key].values[row % variation->keys[key].value_count];
}
