/* Values with their units, read and written as in a system file: "5.5 m", "18 ft", "-3 dB", "80 Hz". */
#ifndef TAILVOLT_QUANTITY_H
#define TAILVOLT_QUANTITY_H

#include <stddef.h>

#include "tailvolt/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What a value measures; in brackets the unit of the number. */
enum tailvolt_measure {
  TAILVOLT_VOLTAGE,     /**< V */
  TAILVOLT_CURRENT,     /**< A */
  TAILVOLT_RESISTANCE,  /**< ohm */
  TAILVOLT_POWER,       /**< W */
  TAILVOLT_TIME,        /**< s */
  TAILVOLT_LENGTH,      /**< m */
  TAILVOLT_TEMPERATURE, /**< degrees Celsius */
  TAILVOLT_CHARGE,      /**< Ah */
  TAILVOLT_SPEED,       /**< rpm */
  TAILVOLT_SHARE,       /**< fraction: 0.5 for "50 %" */
  TAILVOLT_LEVEL,       /**< dB */
  TAILVOLT_FREQUENCY    /**< Hz */
};

/** Reads a value with its unit; takes every spelling of the system file, skips surrounding white space.
 *  \param value  set for TAILVOLT_OK only. Any finite number: what range it must lie in is for whoever asks
 *  \return TAILVOLT_OK, or TAILVOLT_BAD_INPUT: no number, no unit, or a unit of something else */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_quantity_read(const char *text, enum tailvolt_measure measure,
                                                                          double *value);

/** Writes a value in the handiest unit, "200 ms"; at most six digits. `to` of 48 bytes is always enough. */
TAILVOLT_API void tailvolt_quantity_write(double value, enum tailvolt_measure measure, char *to, size_t size);

/** The units accepted, for messages: "m, cm, mm, ft or in". Constant. */
TAILVOLT_API const char *tailvolt_measure_units(enum tailvolt_measure measure);

#ifdef __cplusplus
}
#endif
#endif
