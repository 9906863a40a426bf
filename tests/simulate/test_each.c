/* The same work for many items: each once, by as many threads as are asked for, and from within by the one that calls. */
#define _POSIX_C_SOURCE 200809L
#include "support/assert_near.h"

#include <stdatomic.h>
#include <time.h>

#include "simulate/each.h"
#include "text/lock.h"

enum { ITEMS = 60, THREADS = 3 };

struct seen {
  atomic_int times[ITEMS], by[THREADS + 1], begun, patience_ms, within_elsewhere;
  int threads;
  struct tv_lock lock;
  int sum; /* of what the lock guards */
};

struct within {
  struct seen *seen;
  int number; /* of the thread that calls from within */
};

/* Long enough for another thread to begin. */
static void wait_ms(int ms) {
  nanosleep(&(struct timespec){0, ms * 1000000L}, NULL);
}

static void look_within(void *context, int k) {
  const struct within *within = context;
  (void)k;
  wait_ms(1);
  if (tv_thread() != within->number) atomic_fetch_add(&within->seen->within_elsewhere, 1);
}

static void look(void *context, int k) {
  struct seen *seen = context;
  int number = tv_thread();
  atomic_fetch_add(&seen->times[k], 1);
  if (atomic_fetch_add(&seen->by[number >= 0 && number < THREADS ? number : THREADS], 1) == 0) atomic_fetch_add(&seen->begun, 1);
#ifdef _OPENMP
  while (atomic_load(&seen->begun) < seen->threads && atomic_fetch_sub(&seen->patience_ms, 1) > 0) wait_ms(1);
#endif
  struct within within = {seen, number};
  if (k % 20 == 0) tv_each(4, THREADS, look_within, &within);
  tv_lock_take(&seen->lock);
  int was = seen->sum;
  if (k % 2 == 0) wait_ms(1);
  seen->sum = was + k;
  tv_lock_give(&seen->lock);
}

static void each_once(void **state) {
  (void)state;
  for (int threads = 1; threads <= THREADS; threads++) {
    static struct seen seen;
    for (int k = 0; k < ITEMS; k++) atomic_init(&seen.times[k], 0);
    for (int t = 0; t <= THREADS; t++) atomic_init(&seen.by[t], 0);
    atomic_init(&seen.within_elsewhere, 0);
    atomic_init(&seen.begun, 0);
    atomic_init(&seen.patience_ms, 20000);
    seen.threads = threads;
    seen.sum = 0;
    tv_lock_make(&seen.lock);
    tv_each(ITEMS, threads, look, &seen);
    tv_lock_free(&seen.lock);
    for (int k = 0; k < ITEMS; k++) assert_int_equal(atomic_load(&seen.times[k]), 1);
#ifdef _OPENMP
    for (int t = 0; t <= THREADS; t++) assert_int_equal(atomic_load(&seen.by[t]) > 0, t < threads);
#endif
    assert_int_equal(atomic_load(&seen.within_elsewhere), 0);
    assert_int_equal(seen.sum, ITEMS * (ITEMS - 1) / 2);
    assert_int_equal(tv_thread(), 0);
  }
}

/* ---- beside ---- */

struct meanwhile {
  atomic_int times, patience_ms;
  atomic_bool own_has_begun;
  struct seen within; /* of a tv_each() of its own */
};

static void note_number(void *context, int k) {
  struct seen *seen = context;
  (void)k;
  wait_ms(1);
  if (tv_thread() != 0) atomic_fetch_add(&seen->within_elsewhere, 1);
}

static void go(void *context) {
  struct meanwhile *m = context;
  atomic_fetch_add(&m->times, 1);
  atomic_store(&m->own_has_begun, true);
  tv_each(8, THREADS, note_number, &m->within);
}

static void begin_within(void *context, int k) {
  struct meanwhile *m = context;
  struct tv_beside beside;
  (void)k;
  tv_beside_begin(&beside, THREADS, go, m);
  wait_ms(5);
  assert_false(beside.begun);
  tv_beside_end(&beside);
}

static void goes_on_beside(void **state) {
  (void)state;
  static struct meanwhile m;
  struct tv_beside beside;
  atomic_init(&m.patience_ms, 20000);
  tv_beside_begin(&beside, 2, go, &m);
#ifdef _OPENMP
  while (!atomic_load(&m.own_has_begun) && atomic_fetch_sub(&m.patience_ms, 1) > 0) wait_ms(1);
  assert_true(atomic_load(&m.own_has_begun));
#endif
  tv_beside_end(&beside);
  assert_int_equal(atomic_load(&m.times), 1);
  assert_int_equal(atomic_load(&m.within.within_elsewhere), 0); /* one thread is all that it has */
  atomic_store(&m.own_has_begun, false);
  tv_beside_begin(&beside, 1, go, &m);
  wait_ms(5);
  assert_false(atomic_load(&m.own_has_begun));
  tv_beside_end(&beside);
  assert_int_equal(atomic_load(&m.times), 2);
  tv_each(1, 1, begin_within, &m);
  assert_int_equal(atomic_load(&m.times), 3);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(each_once), cmocka_unit_test(goes_on_beside)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
