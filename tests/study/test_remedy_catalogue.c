/* The catalogue: the built-in one reads, and every fault says where it is. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "study/remedy_catalogue.h"

static void test_built_in(void **state) {
  (void)state;
  struct tv_catalogue catalogue, file;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_catalogue_read(NULL, &catalogue, error), TAILVOLT_OK);
  /* the file it was made from says the same */
  assert_int_equal(tv_catalogue_read(TAILVOLT_SOURCE_DIR "/profiles/catalogue.csv", &file, error), TAILVOLT_OK);
  assert_int_equal(catalogue.count, file.count);
  int count[TV_STOCKS] = {0};
  for (int k = 0; k < catalogue.count; k++) {
    const struct tv_stock_item *item = &catalogue.item[k];
    assert_string_equal(item->size, file.item[k].size);
    count[item->stock]++;
    /* rising in effect: cable by falling resistance */
    if (k > 0 && item->stock == catalogue.item[k - 1].stock && item->stock != TV_STOCK_WORK) {
      if (item->stock == TV_STOCK_CABLE) assert_true(item->value < catalogue.item[k - 1].value);
      else assert_true(item->value > catalogue.item[k - 1].value);
    }
    if (strcmp(item->size, "4 AWG") == 0) assert_near(item->value, 0.8315e-3, 1e-7); /* ASTM B258, stranded */
    if (strcmp(item->size, "25 mm2") == 0) assert_near(item->value, 0.743e-3, 1e-9); /* ISO 6722 */
    if (item->stock == TV_STOCK_CAPACITOR) assert_true(item->esr_ohm > 1e-3 && item->esr_ohm < 5e-3);
  }
  for (int s = TV_STOCK_CABLE; s < TV_STOCKS; s++) assert_true(count[s] >= 3);
  assert_true(catalogue.hour_cost > 0.0);
  for (int w = 0; w < TV_WORKS; w++) assert_non_null(tv_catalogue_work(&catalogue, (enum tv_work)w));
  tv_catalogue_free(&catalogue);
  tv_catalogue_free(&file);
}

static void test_faults(void **state) {
  (void)state;
  static const struct {
    const char *text, *error;
  } bad[] = {
      {"", "is empty"},
      {"part;size;cost\ncable;4 AWG;1\n", "1: cells are separated by commas, not by semicolons"},
      {"part,size\ncable,4 AWG\n", "1: column cost is missing"},
      {"part,size,cost,price\n", "1:4: column 'price': a catalogue has"},
      {"part,size,cost,cost\n", "1:4: column 'cost' appears twice"},
      {"part,size,cost\nbelt,1 m,2\n", "2:1: part 'belt'"},
      {"part,size,cost\ncable,8,2\n", "2:2: '8' is not a size of a cable"},
      {"part,size,cost\n# a comment\n\ncable,4 AWG,dear\n", "4:3: 'dear' is not a number"},
      {"part,size,cost\ncable,4 AWG,-2\n", "2:3: '-2' is out of range"},
      {"part,size,cost\ncable,4 AWG\n", "2: has 2 cells where the header has 3"},
      {"part,size,cost\ncable,4 AWG,1\ncable,4 AWG,2\n", "3:2: cable '4 AWG' appears twice"},
      {"part,size,cost\ncapacitor,1 F,1\ncapacitor,1000 mF,2\n", "3:2: capacitor '1000 mF' appears twice"},
      {"part,size,cost\nwork,feed,1\nwork,feed,2\n", "3:2: work 'feed' appears twice"},
      {"part,size,cost\nwork,paint,1\n", "2:2: 'paint': work is"},
      {"part,size,cost\nalternator,900 A,1\n", "2:2: '900 A' is out of range for a part alternator"},
      {"part,size,cost\nbattery,nan Ah,1\n", "2:2: 'nan Ah' is not a size"},
      {"part,size,cost\ncurrency,EUR,1\n", "2:2: a currency belongs in a price list"},
      {"part,size,cost\n\"cable,4 AWG,1\n", "2: a quotation mark"},
  };
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
    struct tv_catalogue catalogue;
    char path[] = "/tmp/tailvolt-stock-XXXXXX", error[TAILVOLT_TEXT_MAX];
    int file = mkstemp(path);
    assert_true(file >= 0);
    assert_int_equal(write(file, bad[k].text, strlen(bad[k].text)), (ssize_t)strlen(bad[k].text));
    close(file);
    assert_int_equal(tv_catalogue_read(path, &catalogue, error), TAILVOLT_BAD_INPUT);
    if (strncmp(error, bad[k].error, strlen(bad[k].error)) != 0) fail_msg("said `%s`, wanted `%s`", error, bad[k].error);
    assert_null(catalogue.item);
    unlink(path);
  }
  struct tv_catalogue catalogue;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_catalogue_read("/nowhere/catalogue.csv", &catalogue, error), TAILVOLT_NOT_READABLE);
}

static const struct tv_stock_item *item_of(const struct tv_catalogue *catalogue, enum tv_stock stock, const char *size) {
  for (int k = 0; k < catalogue->count; k++)
    if (catalogue->item[k].stock == stock && strcmp(catalogue->item[k].size, size) == 0) return &catalogue->item[k];
  return NULL;
}

/* Listed items take the list's figures, unlisted items of a listed part are not stocked, the rest stays. */
static void test_price_list(void **state) {
  (void)state;
  static const char list[] = "part,size,price,price_per_m,hours\ncurrency,EUR,,,\nhour,,60,,\ncable,4 AWG,,6.5,\n"
                             "cable,6 AWG,,4.5,\nwork,feed,,,2.5\ncapacitor,1 F,45,,0.6\n";
  char path[] = "/tmp/tailvolt-prices-XXXXXX", error[TAILVOLT_TEXT_MAX];
  struct tv_catalogue catalogue;
  int file = mkstemp(path);
  assert_true(file >= 0);
  assert_int_equal(write(file, list, sizeof list - 1), (ssize_t)sizeof list - 1);
  close(file);
  assert_int_equal(tv_catalogue_read(NULL, &catalogue, error), TAILVOLT_OK);
  assert_int_equal(tv_catalogue_price(path, &catalogue, error), TAILVOLT_OK);
  assert_string_equal(catalogue.currency, "EUR");
  assert_true(catalogue.hour_cost == 60.0);
  const struct tv_stock_item *four = item_of(&catalogue, TV_STOCK_CABLE, "4 AWG"),
                             *six = item_of(&catalogue, TV_STOCK_CABLE, "6 AWG");
  assert_true(four != NULL && four->priced && four->cost_per_m == 6.5);
  assert_true(six != NULL && six < four);
  assert_null(item_of(&catalogue, TV_STOCK_CABLE, "1/0 AWG"));
  const struct tv_stock_item *farad = item_of(&catalogue, TV_STOCK_CAPACITOR, "1 F");
  assert_true(farad != NULL && farad->cost == 45.0 && farad->effort_h == 0.6 && farad->esr_ohm == 3e-3);
  assert_null(item_of(&catalogue, TV_STOCK_CAPACITOR, "2 F"));
  assert_true(tv_catalogue_work(&catalogue, TV_WORK_FEED)->priced);
  assert_false(tv_catalogue_work(&catalogue, TV_WORK_STRAP)->priced);
  const struct tv_stock_item *machine = item_of(&catalogue, TV_STOCK_ALTERNATOR, "150 A");
  assert_true(machine != NULL && !machine->priced);
  tv_catalogue_free(&catalogue);
  unlink(path);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_built_in), cmocka_unit_test(test_faults),
                                     cmocka_unit_test(test_price_list)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
