/* The one place that turns numbers into text for reports. Always the C locale's point, whatever
 * setlocale() was called with. A value that is not finite is written "-". */
#ifndef TV_TEXT_NUMBER_H
#define TV_TEXT_NUMBER_H

#include <stdbool.h>
#include <stddef.h>

/* Returned by value, so that `tv_fixed(v, 2).text` can stand as an argument. */
struct tv_number {
  char text[40];
};

/* With a fixed number of digits after the point; zero never carries a sign. */
struct tv_number tv_fixed(double value, int digits);

/* The fewest digits that read back as the same double. */
struct tv_number tv_shortest(double value);

/* At most `digits` significant digits, 1 to 17, trailing zeros dropped; whole numbers below 1e15 keep all of
 * theirs. For messages about input: values that are not finite read "nan", "inf" or "-inf". */
struct tv_number tv_significant(double value, int digits);

/* Two digits and a power of ten, "1.3e-09": for residuals. */
struct tv_number tv_scientific(double value);

/* At most `digits` digits after the point, trailing zeros dropped. */
struct tv_number tv_compact(double value, int digits);

#define TV_MICRO_MAX 48
/* For long records: at most six digits after the point, trailing zeros dropped, nothing at all where the
 * value is not finite. Not terminated; returns the length. */
size_t tv_micro(char to[TV_MICRO_MAX], double value);

/* "58 A" from ten on, "4.2 A" below. */
struct tv_number tv_amperes(double value_a);

/* "10.9 V"; two digits where `beside_v` would otherwise look the same. NAN = nothing beside it. */
struct tv_number tv_volts_beside(double value_v, double beside_v);

/* "31 %", "4.2 %", "0.04 %", "under 0.01 %". */
struct tv_number tv_percent(double value_pct);

/* A moment of a profile: "4:12", "1:04:12"; below one minute "0:12.3". Rounded down. */
struct tv_number tv_clock(double time_s);

/* A duration: "12 s", "35 min", "2.1 h", "4.2 days". */
struct tv_number tv_duration(double time_s);

/* A playing time, as read off a clock: "45 s", "12 min", "3 h 05 min". */
struct tv_number tv_playing_time(double time_s);

/* A temperature given in Celsius: "85 C" or "185 F". */
struct tv_number tv_temperature(double value_c, bool us_units);

/* A temperature's number alone, without unit. */
struct tv_number tv_degrees(double value_c, bool us_units);

/* "5.5 m", "30 cm", or "18.0 ft", "12 in". */
struct tv_number tv_length(double value_m, bool us_units);

/* Conductor size for an effective copper area: "25 mm2", or the nearest AWG size, "4 AWG", "2/0 AWG". */
struct tv_number tv_size(double area_m2, bool us_units);

#endif
