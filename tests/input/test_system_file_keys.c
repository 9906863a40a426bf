/* The one table of keys: its own reader takes its ranges and defaults, and names find their way back. */
#include "input/system_keys.h"

#include <stdio.h>
#include <string.h>

#include "support/assert_near.h"
#include "tailvolt/system.h"

static double read_limit(const char *text, enum tv_measure measure, const char *key) {
  double value = 0.0;
  if (text == NULL || tv_quantity_read(text, strlen(text), measure, &value) != TV_QUANTITY_OK)
    fail_msg("'%s': '%s' cannot be read", key, text == NULL ? "(none)" : text);
  return value;
}

static bool has_range(enum tv_form form) {
  return form == TV_FORM_QUANTITY || form == TV_FORM_WHOLE || form == TV_FORM_SIZE ||
         form == TV_FORM_STRANDS || form == TV_FORM_ENGINE_SIZE || form == TV_FORM_CRANKING ||
         form == TV_FORM_TIMES || form == TV_FORM_CHANNELS || form == TV_FORM_PAIRS ||
         form == TV_FORM_POWER_AT;
}

static void ranges(void **state) {
  (void)state;
  size_t count = 0;
  const struct tv_key *keys = tv_system_keys(&count);
  assert_true(count > 90);
  for (size_t k = 0; k < count; k++) {
    assert_int_not_equal(keys[k].kinds, 0);
    if (has_range(keys[k].form)) {
      double low = read_limit(keys[k].low, keys[k].measure, keys[k].name);
      double high = read_limit(keys[k].high, keys[k].measure, keys[k].name);
      if (!(low < high)) fail_msg("'%s': %s is not below %s", keys[k].name, keys[k].low, keys[k].high);
      double fallback = 0.0;
      if (keys[k].form == TV_FORM_QUANTITY && keys[k].fallback != NULL) {
        fallback = read_limit(keys[k].fallback, keys[k].measure, keys[k].name);
        if (!(fallback >= low && fallback <= high)) fail_msg("'%s': default out of range", keys[k].name);
      }
    }
    if (keys[k].form == TV_FORM_WORD) assert_non_null(strchr(keys[k].low, '|'));
    if (keys[k].form == TV_FORM_PAIRS) {
      struct tv_key_second second = tv_key_second((enum tv_key_id)k);
      assert_true(read_limit(second.low, second.measure, keys[k].name) <
                  read_limit(second.high, second.measure, keys[k].name));
      assert_non_null(strstr(second.example, second.between));
    }
  }
}

static void names_find_back(void **state) {
  (void)state;
  size_t count = 0;
  const struct tv_key *keys = tv_system_keys(&count);
  for (int kind = 0; kind < TV_KINDS; kind++) {
    const char *word = tv_kind_word((enum tv_kind)kind);
    assert_int_equal(tv_kind_find(word, strlen(word)), kind);
    for (size_t k = 0; k < count; k++) {
      if ((keys[k].kinds & (1u << kind)) == 0) continue;
      assert_int_equal(tv_key_find((enum tv_kind)kind, keys[k].name), k);
      for (const char *at = keys[k].other; at != NULL && *at != '\0';) {
        char other[64];
        size_t length = strcspn(at, ",");
        snprintf(other, sizeof other, "%.*s", (int)length, at);
        assert_int_equal(tv_key_find((enum tv_kind)kind, other), k);
        at += length + (at[length] == ',');
      }
      /* one letter too many still finds the key */
      char wrong[64];
      snprintf(wrong, sizeof wrong, "%sq", keys[k].name);
      if (keys[k].form != TV_FORM_POWER_AT && strlen(keys[k].name) > 3)
        assert_string_equal(tv_key_nearest((enum tv_kind)kind, wrong), keys[k].name);
    }
  }
  assert_int_equal(tv_kind_find("music", 5), TV_KIND_PROGRAMME);
  assert_int_equal(tv_kind_find("radio", 5), TV_KINDS);
  assert_int_equal(tv_key_find(TV_KIND_AMPLIFIER, "power at 12.5 V"), TV_K_POWER_AT);
  assert_int_equal(tv_key_find(TV_KIND_AMPLIFIER, "power atlas"), TV_KEY_COUNT);
  assert_int_equal(tv_key_elsewhere("pulley ratio"), TV_KIND_ALTERNATOR);
  assert_int_equal(tv_key_elsewhere("zzz"), TV_KINDS);
}

/* Values of one section can be told apart: no two keys of a kind share a name. */
static void no_doubles(void **state) {
  (void)state;
  size_t count = 0;
  const struct tv_key *keys = tv_system_keys(&count);
  for (size_t a = 0; a < count; a++)
    for (size_t b = a + 1; b < count; b++)
      if ((keys[a].kinds & keys[b].kinds) != 0 && strcmp(keys[a].name, keys[b].name) == 0)
        fail_msg("'%s' appears twice", keys[a].name);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(ranges), cmocka_unit_test(names_find_back),
                                     cmocka_unit_test(no_doubles)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
