/* Results made by hand, for tests of what reports do with them. Nothing here was simulated: the figures are
 * round, so a test can say what must be printed. */
#ifndef TAILVOLT_TEST_SAMPLE_RESULT_H
#define TAILVOLT_TEST_SAMPLE_RESULT_H

#include "tailvolt/tailvolt.h"

struct sample {
  struct tailvolt_result result;
  struct tailvolt_system system;
  struct tailvolt_reason reasons[8];
  struct tailvolt_amplifier_result amplifiers[2];
  struct tailvolt_ledger ledger;
  struct tailvolt_ledger_entry entries[16];
  struct tailvolt_battery_result battery;
  struct tailvolt_capacitor_result capacitor;
  struct tailvolt_conductor_result conductors[4];
  struct tailvolt_fuse_result fuse;
  struct tailvolt_meter_result meter;
  struct tailvolt_finding cautions[2];
  struct tailvolt_conductor parts[4];
  struct tailvolt_assumption assumptions[9];
};

/* A van that fails at idle and holds on the road, with something in every list. */
void sample_fails(struct sample *sample);

/* The same, put right: holds in both phases, no reasons. */
void sample_holds(struct sample *sample);

#endif
