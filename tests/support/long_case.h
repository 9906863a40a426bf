/* Cases that only run longer through code that others pass through as well. Sanitizers make a run several times as long, so
 * that build skips them, visibly; the release build runs them. */
#ifndef TAILVOLT_TEST_LONG_CASE_H
#define TAILVOLT_TEST_LONG_CASE_H

#ifdef TAILVOLT_SANITIZED
#define LONG_CASE() skip()
#else
#define LONG_CASE() ((void)0)
#endif

#endif
