/* The one table of what a battery's kind implies and its label does not say.
 *
 * - Rested voltage: flooded and gel from a printed temperature table (27 C; 2 mV from its 25 C); AGM and
 *   lithium-iron typical label tables (values from memory), but 11.5 V for empty AGM, where label tables say
 *   11.7, a fit of field data 11.48 and a measured 17 Ah battery rested at 11.45 V after two hours.
 *
 * - Reserve relation: IEC 60095-1 / EN 50342-1 (value from memory).
 *
 * - Resistance against charge: rough published factors 1.15, 1.4, 2.0, 3 at 75, 50, 25, 10 %, which
 *   1 + 0.639 (1/(s + 0.15) - 1/1.15) meets within 3 %. Against temperature: 0.9 %/K, between the 0.73 %/K of
 *   workshop load-test floors and twice the resistance at -18 C (handbooks); AGM 1.1 %/K, still 1.6 times at
 *   -18 C, which gives the 3 to 3.5 mohm of a warm 70 Ah battery (value from memory): with less, resistance
 *   would use up all of its higher rested voltage in the cold cranking test.
 *
 * - Charge transfer: Butler-Volmer with symmetric exchange is an asinh law of scale 2RT/F = 51.4 mV a cell at
 *   25 C; its small-signal resistance and 3 %/K (activation about 23 kJ/mol) are common figures of impedance
 *   work (from memory). The surface capacitance lets 14.9 V fall to 13.4 V within 8 min of rest, as measured
 *   on a 100 Ah valve-regulated block.
 *
 * - Surface charge: its tail, a capacitance with a leak i = It sinh(v/Vt), was fitted to a 17 Ah and a 100 Ah
 *   valve-regulated battery at rest after 13.6 and 14.9 V (within 0.05 and 0.1 V from ten minutes to two
 *   hours); 80 F per Ah is one per cent of the charge, the amount that must be drawn before it is gone.
 *   Flooded: half the voltage; 12.9 V an hour after charging is what a meter shows (common practice).
 *
 * - Wells: a time constant 1/k of one to two hours is what the rest voltage takes to settle after charge or
 *   discharge; 1 %/K of the well's width with 1 %/K of its rate gives the capacity factors of IEC 60896, 0.6
 *   %/K at the ten-hour and 1 %/K at the one-hour rate (value from memory).
 *
 * - Acceptance: amperes per volt and missing ampere-hour, less the tail's voltage; flooded 0.68 gives the
 *   usual 0.32, 0.15, 0.08 C at 60, 80, 90 % held at 14.2 V and 5 to 6 h from half to full (values from
 *   memory); halved for each 12.5 K below 25 C. AGM: 1.3, a third more current than flooded when low. One and
 *   a half to two times is often quoted, but a measured 105 Ah battery reached 14.4 V at 63 % with 0.4 C and
 *   at 77 % with 0.2 C, which fits 1.2. Acceptance lost by standing (EN 50342-6) needs a history that no file
 *   gives.
 *
 * - Gassing: Schiffer et al., J. Power Sources 168, 2007: 20 mA (flooded) or 10 mA per 100 Ah at 2.23 V a
 *   cell, 11 /V a cell (value from memory), 6 %/K. At the rested voltage the same law gives 6 mA, 4 % a
 *   month, the usual self-discharge: one law serves both. */
#include "parts/battery_model.h"

/* clang-format off: a table to be read across */
#define FLOODED_OCV                                                                                          \
  .ocv_count = 5, .ocv_frac = {0.0, 0.25, 0.5, 0.75, 1.0}, .ocv_v = {11.89, 12.06, 12.24, 12.45, 12.65},     \
  .acid_shift = true
#define FLOODED_RESERVE .reserve_min = 0.7732, .reserve_power = 1.1828
#define VALVE_RESERVE .reserve_min = 1.1339, .reserve_power = 1.1201
#define LEAD_OHMIC .ohmic_soc_gain = 0.639, .ohmic_soc_shift = 0.15
#define LEAD_TRANSFER                                                                                        \
  .transfer_v = 6.0 * 0.0514, .transfer_per_k = 0.03, .surface_f_per_ah = 2.0, .slow_ohm_ah = 0.10,          \
  .tail_f_per_ah = 80.0,                                                                                     \
  .slow_s = 60.0
#define FLOODED_TAIL .tail_a_per_ah = 3e-5, .tail_v = 0.05
#define VALVE_TAIL .tail_a_per_ah = 1e-5, .tail_v = 0.07
#define LEAD_WELLS .exchange_per_k = 0.01, .available_per_k = 0.01
#define FLOODED_WELLS LEAD_WELLS, .exchange_per_h = 0.75
#define VALVE_WELLS LEAD_WELLS, .exchange_per_h = 0.70
#define FLOODED_OHMIC LEAD_OHMIC, .ohmic_per_k = 0.009
#define AGM_OHMIC LEAD_OHMIC, .ohmic_per_k = 0.011
#define LEAD_GAS .gas_at_v = 13.38, .gas_per_v = 11.0 / 6.0, .gas_per_k = 0.06

const struct tv_battery_kind tv_battery_kinds[] = {
    [TAILVOLT_FLOODED] = {.kind = TAILVOLT_FLOODED,
                          FLOODED_OCV,
                          FLOODED_RESERVE,
                          FLOODED_OHMIC,
                          LEAD_TRANSFER,
                          FLOODED_WELLS,
                          FLOODED_TAIL,
                          LEAD_GAS,
                          .cranking_a_per_ah = 9.0,
                          .resistance_ohm_ah = 0.35,
                          .transfer_ohm_ah = 0.20,
                          .accept_per_v_h = 0.68,
                          .accept_doubling_k = 12.5,
                          .accept_floor_frac = 0.010,
                          .store_frac = 0.97,
                          .store_end_frac = 0.025,
                          .gas_a_per_ah = 20e-5},
    [TAILVOLT_EFB] = {.kind = TAILVOLT_EFB,
                      FLOODED_OCV,
                      FLOODED_RESERVE,
                      FLOODED_OHMIC,
                      LEAD_TRANSFER,
                      FLOODED_WELLS,
                      FLOODED_TAIL,
                      LEAD_GAS,
                      .cranking_a_per_ah = 9.5,
                      .resistance_ohm_ah = 0.33,
                      .transfer_ohm_ah = 0.17,
                      .accept_per_v_h = 0.9,
                      .accept_doubling_k = 12.5,
                      .accept_floor_frac = 0.008,
                      .store_frac = 0.97,
                      .store_end_frac = 0.025,
                      .gas_a_per_ah = 17e-5},
    [TAILVOLT_AGM] = {.kind = TAILVOLT_AGM,
                      .ocv_count = 5,
                      .ocv_frac = {0.0, 0.25, 0.5, 0.75, 1.0},
                      .ocv_v = {11.50, 12.00, 12.25, 12.55, 12.90},
                      .acid_shift = true,
                      VALVE_RESERVE,
                      AGM_OHMIC,
                      LEAD_TRANSFER,
                      VALVE_WELLS,
                      VALVE_TAIL,
                      LEAD_GAS,
                      .cranking_a_per_ah = 11.0,
                      .resistance_ohm_ah = 0.30,
                      .transfer_ohm_ah = 0.13,
                      .accept_per_v_h = 1.3,
                      .accept_doubling_k = 12.5,
                      .accept_floor_frac = 0.0055,
                      .store_frac = 0.98,
                      .store_end_frac = 0.025,
                      .gas_a_per_ah = 10e-5},
    [TAILVOLT_GEL] = {.kind = TAILVOLT_GEL,
                      .ocv_count = 5,
                      .ocv_frac = {0.0, 0.25, 0.5, 0.75, 1.0},
                      .ocv_v = {11.80, 12.00, 12.40, 12.60, 12.80},
                      .acid_shift = true,
                      VALVE_RESERVE,
                      FLOODED_OHMIC,
                      LEAD_TRANSFER,
                      VALVE_WELLS,
                      VALVE_TAIL,
                      LEAD_GAS,
                      .cranking_a_per_ah = 6.0,
                      .resistance_ohm_ah = 0.50,
                      .transfer_ohm_ah = 0.22,
                      .accept_per_v_h = 0.9,
                      .accept_doubling_k = 12.5,
                      .accept_floor_frac = 0.008,
                      .store_frac = 0.98,
                      .store_end_frac = 0.025,
                      .gas_a_per_ah = 10e-5},
    /* a lithium-iron pack: Peukert exponent 1.05; 3-8 mohm at 25 C for 100 Ah, three to five times that at
   * -10 C, most of it charge transfer; plateau within +-0.1 V (all from memory) */
    [TAILVOLT_LITHIUM_IRON] = {.kind = TAILVOLT_LITHIUM_IRON,
                               .ocv_count = 11,
                               .ocv_frac = {0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0},
                               .ocv_v = {11.0, 12.60, 12.85, 13.00, 13.10, 13.15, 13.20, 13.25, 13.30, 13.35,
                                         13.50},
                               .rate_power = 1.05,
                               .cranking_a_per_ah = 0.0,
                               .resistance_ohm_ah = 0.35,
                               .ohmic_per_k = 0.006,
                               .ohmic_soc_gain = 0.05,
                               .ohmic_soc_shift = 0.1,
                               .transfer_ohm_ah = 0.18,
                               .transfer_v = 4.0 * 0.0514,
                               .transfer_per_k = 0.06,
                               .surface_f_per_ah = 3.0,
                               .slow_ohm_ah = 0.05,
                               .slow_s = 60.0,
                               .exchange_per_h = 2.0,
                               .exchange_per_k = 0.02,
                               .available_per_k = 0.004,
                               .accept_per_v_h = 20.0,
                               .accept_doubling_k = 15.0,
                               .accept_floor_frac = 1e-4,
                               .store_frac = 0.998,
                               .store_end_frac = 0.0005,
                               .gas_a_per_ah = 3e-5,
                               .gas_at_v = 13.3,
                               .gas_per_v = 1.0,
                               .gas_per_k = 0.06,
                               .guarded = true},
};
/* clang-format on */
