/* Keeps the support library from being empty. */
#include "support/assert_near.h"

int tailvolt_test_support_present(void);
int tailvolt_test_support_present(void) { return 1; }
