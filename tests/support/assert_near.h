/* Closeness checks that print what they saw. */
#ifndef TAILVOLT_TEST_ASSERT_NEAR_H
#define TAILVOLT_TEST_ASSERT_NEAR_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

/* absolute tolerance */
#define assert_near(seen, wanted, tolerance)                                                      \
  do {                                                                                            \
    double seen_ = (seen), wanted_ = (wanted), tolerance_ = (tolerance);                          \
    if (!(fabs(seen_ - wanted_) <= tolerance_))                                                   \
      fail_msg("%s = %.12g, wanted %.12g within %.3g", #seen, seen_, wanted_, tolerance_);        \
  } while (0)

/* relative tolerance */
#define assert_near_rel(seen, wanted, tolerance)                                                  \
  do {                                                                                            \
    double seen_ = (seen), wanted_ = (wanted), tolerance_ = (tolerance);                          \
    if (!(fabs(seen_ - wanted_) <= tolerance_ * fabs(wanted_)))                                   \
      fail_msg("%s = %.12g, wanted %.12g within %.3g of it", #seen, seen_, wanted_, tolerance_);  \
  } while (0)

#endif
