#include "report/json_read.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tailvolt/status.h"
#include "text/read_number.h"
#include "text/text.h"

enum { DEEPEST = 200 };

struct reader {
  const char *start, *at, *end;
  const char *wrong; /* what is; NULL with no tree = memory ran out */
  int depth;
};

static json_t *read_value(struct reader *from);

static json_t *refuse(struct reader *from, const char *wrong) {
  from->wrong = wrong;
  return NULL;
}

static void skip_blanks(struct reader *from) {
  while (from->at < from->end && (*from->at == ' ' || *from->at == '\t' || *from->at == '\r' || *from->at == '\n')) from->at++;
}

/* Takes the character that comes next after blanks, if it is this one. */
static bool take(struct reader *from, char wanted) {
  skip_blanks(from);
  if (from->at == from->end || *from->at != wanted) return false;
  from->at++;
  return true;
}

/* ---- texts ---- */

/* Four hexadecimal digits; -1 = there are none. */
static long read_hex(struct reader *from) {
  long value = 0;
  if (from->end - from->at < 4) return -1;
  for (int k = 0; k < 4; k++) {
    char c = *from->at++;
    int digit = c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
    if (digit < 0) return -1;
    value = 16 * value + digit;
  }
  return value;
}

/* The number of the character behind \u; beyond 16 bits it is written as two. -1 = none. */
static long read_escaped(struct reader *from) {
  long value = read_hex(from);
  if (value < 0xd800 || value > 0xdfff) return value > 0 ? value : -1;
  if (value > 0xdbff || from->end - from->at < 2 || from->at[0] != '\\' || from->at[1] != 'u') return -1;
  from->at += 2;
  long second = read_hex(from);
  return second >= 0xdc00 && second <= 0xdfff ? 0x10000 + (value - 0xd800) * 0x400 + (second - 0xdc00) : -1;
}

static char *put_character(char *to, long value) {
  static const int firsts[] = {0, 0x00, 0xc0, 0xe0, 0xf0};
  int count = value < 0x80 ? 1 : value < 0x800 ? 2 : value < 0x10000 ? 3 : 4;
  for (int k = count - 1; k > 0; k--, value >>= 6) to[k] = (char)(0x80 | (value & 0x3f));
  to[0] = (char)(firsts[count] | value);
  return to + count;
}

/* What is between the quotes, of which the first is taken, into `to`; where it ends. NULL where it is wrong. */
static char *unescape(struct reader *from, char *to) {
  static const char letters[] = "\"\\/bfnrt", meant[] = "\"\\/\b\f\n\r\t";
  while (from->at < from->end && *from->at != '"') {
    size_t length = tv_utf8_length(from->at);
    if (length > (size_t)(from->end - from->at)) length = 0;
    if ((unsigned char)*from->at < 0x20 || length == 0) {
      from->wrong = length == 0 ? "is no UTF-8" : "a text holds a line end or another control character";
      return NULL;
    }
    if (*from->at != '\\') {
      memcpy(to, from->at, length);
      to += length;
      from->at += length;
      continue;
    }
    const char *letter = from->end - from->at >= 2 && from->at[1] != '\0' ? strchr(letters, from->at[1]) : NULL;
    bool number = from->end - from->at >= 2 && from->at[1] == 'u';
    from->at += letter != NULL || number ? 2 : 0;
    long value = number ? read_escaped(from) : -1;
    if (letter != NULL) *to++ = meant[letter - letters];
    else if (value > 0) to = put_character(to, value);
    else {
      from->wrong = "a text holds a \\ with something behind it that means nothing";
      return NULL;
    }
  }
  if (from->at == from->end) {
    from->wrong = "a text does not end";
    return NULL;
  }
  from->at++;
  return to;
}

/* The text whose first quote is taken, as long as *length; NULL where there is none. Free it. */
static char *read_text(struct reader *from, size_t *length) {
  /* no character gets longer; the end is the first quote that no \ stands before */
  const char *end = from->at;
  while (end < from->end && *end != '"') end += *end == '\\' && from->end - end > 1 ? 2 : 1;
  char *text = malloc((size_t)(end - from->at) + 1);
  char *last = text != NULL ? unescape(from, text) : NULL;
  if (last == NULL) {
    free(text);
    return NULL;
  }
  *last = '\0';
  *length = (size_t)(last - text);
  return text;
}

/* ---- numbers ---- */

static const char *past_digits(const char *at, const char *end) {
  while (at < end && *at >= '0' && *at <= '9') at++;
  return at;
}

static json_t *read_number(struct reader *from) {
  const char *start = from->at, *end = from->end, *at = start + (*start == '-'), *digits = at;
  bool whole = true, sound = (at = past_digits(at, end)) > digits && (*digits != '0' || at == digits + 1);
  if (sound && at < end && *at == '.') {
    whole = false;
    digits = ++at;
    sound = (at = past_digits(at, end)) > digits;
  }
  if (sound && at < end && (*at == 'e' || *at == 'E')) {
    whole = false;
    at++;
    if (at < end && (*at == '+' || *at == '-')) at++;
    digits = at;
    sound = (at = past_digits(at, end)) > digits;
  }
  if (!sound) return refuse(from, "a number is not one");
  from->at = at;
  if (!whole) {
    double value = 0;
    return tv_parse_number(start, (size_t)(at - start), &value) ? json_real(value) : refuse(from, "a number is too large");
  }
  json_int_t value = 0;
  for (digits = start + (*start == '-'); digits < at; digits++) {
    /* downward: there is one more below zero than above */
    int digit = *digits - '0';
    if (value < (INT64_MIN + digit) / 10) return refuse(from, "a number is too large");
    value = 10 * value - digit;
  }
  if (*start != '-' && value == INT64_MIN) return refuse(from, "a number is too large");
  return json_integer(*start == '-' ? value : -value);
}

/* ---- what holds others ---- */

static json_t *read_array(struct reader *from) {
  json_t *array = json_array();
  if (array == NULL || take(from, ']')) return array;
  do {
    json_t *value = read_value(from);
    if (value == NULL || json_array_append_new(array, value) != 0) {
      json_decref(array);
      return NULL;
    }
  } while (take(from, ','));
  if (take(from, ']')) return array;
  json_decref(array);
  return refuse(from, "',' or ']' is missing");
}

static bool read_member(struct reader *from, json_t *object) {
  size_t length = 0;
  if (!take(from, '"')) {
    from->wrong = "the name of a member is missing";
    return false;
  }
  char *name = read_text(from, &length);
  if (name == NULL) return false;
  bool twice = json_object_get(object, name) != NULL, colon = !twice && take(from, ':');
  json_t *value = colon ? read_value(from) : NULL;
  if (!colon) from->wrong = twice ? "a member stands twice" : "':' is missing";
  bool done = value != NULL && json_object_set_new_nocheck(object, name, value) == 0;
  free(name);
  return done;
}

static json_t *read_object(struct reader *from) {
  json_t *object = json_object();
  if (object == NULL || take(from, '}')) return object;
  do {
    if (read_member(from, object)) continue;
    json_decref(object);
    return NULL;
  } while (take(from, ','));
  if (take(from, '}')) return object;
  json_decref(object);
  return refuse(from, "',' or '}' is missing");
}

static json_t *read_word(struct reader *from) {
  static const char *const words[] = {"true", "false", "null"};
  for (int k = 0; k < 3; k++) {
    size_t length = strlen(words[k]);
    if ((size_t)(from->end - from->at) < length || memcmp(from->at, words[k], length) != 0) continue;
    from->at += length;
    return k == 0 ? json_true() : k == 1 ? json_false() : json_null();
  }
  return refuse(from, "a value is missing");
}

static json_t *read_value(struct reader *from) {
  json_t *value = NULL;
  size_t length = 0;
  skip_blanks(from);
  if (from->at == from->end) return refuse(from, "it ends too early");
  if (from->depth >= DEEPEST) return refuse(from, "its parts are nested too deep");
  from->depth++;
  if (take(from, '{')) value = read_object(from);
  else if (take(from, '[')) value = read_array(from);
  else if (*from->at == '-' || (*from->at >= '0' && *from->at <= '9')) value = read_number(from);
  else if (take(from, '"')) {
    char *text = read_text(from, &length);
    value = text != NULL ? json_stringn_nocheck(text, length) : NULL;
    free(text);
  } else value = read_word(from);
  from->depth--;
  return value;
}

json_t *tv_json_read(const char *text, size_t length, char *error) {
  struct reader from = {.start = text, .at = text, .end = text + length};
  json_t *tree = NULL;
  error[0] = '\0';
  skip_blanks(&from);
  if (from.at < from.end && *from.at != '{' && *from.at != '[') from.wrong = "'{' or '[' is missing";
  else tree = read_value(&from);
  skip_blanks(&from);
  if (tree != NULL && from.at < from.end) {
    from.wrong = "something stands behind its end";
    json_decref(tree);
    tree = NULL;
  }
  if (tree != NULL || from.wrong == NULL) return tree;
  int line = 1;
  for (const char *at = text; at < from.at; at++) line += *at == '\n';
  snprintf(error, TAILVOLT_TEXT_MAX, "line %d: %s", line, from.wrong);
  return NULL;
}
