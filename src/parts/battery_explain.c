/* What was derived from a battery's label, in words. */
#include "parts/battery_model.h"
#include "text/number.h"
#include "text/words.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

struct writer {
  char *text;
  size_t size, length;
};

static void add(struct writer *writer, const char *format, ...) {
  va_list list;
  va_start(list, format);
  size_t left = writer->length < writer->size ? writer->size - writer->length : 0;
  int more = vsnprintf(left ? writer->text + writer->length : NULL, left, format, list);
  va_end(list);
  if (more > 0) writer->length += (size_t)more;
}

/* the battery as the label tests see it: at full health */
static struct tv_battery healthy(const struct tv_battery *battery) {
  struct tv_battery copy = *battery;
  copy.usable_c = battery->label_ah * 3600.0;
  if (!battery->fixed_ohmic) copy.ohmic_ohm *= battery->cranking_health_frac;
  copy.guarded = false;
  return copy;
}

static void explain_tests(const struct tv_battery *battery, struct writer *writer) {
  struct tv_battery test = healthy(battery);
  double i20_a = battery->label_ah / 20.0;
  double t20_s = tv_constant_current_s(&test, TV_LABEL_C, i20_a, 10.5, 120.0, 30.0 * 3600.0);
  double reserve_s = tv_constant_current_s(&test, TV_LABEL_C, battery->reserve_a, 10.5,
                                           fmin(10.0, battery->label_ah / 10.0), 1e5);
  add(writer, "  its tests, simulated (all health):\n");
  add(writer, "    capacity        %s A to 10.5 V at 25 C: %s h (20 h wanted)\n", tv_fixed(i20_a, 2).text,
      tv_fixed(t20_s / 3600.0, 2).text);
  add(writer, "    reserve         %s A to 10.5 V at 25 C: %s min (%s wanted%s)\n",
      tv_significant(battery->reserve_a, 4).text, tv_fixed(reserve_s / 60.0, 1).text,
      tv_fixed(battery->reserve_min, 1).text,
      !battery->reserve_assumed            ? ", label"
      : battery->kind->reserve_power > 0.0 ? ", IEC 60095-1 relation"
                                           : ", usual rate dependence");
  if (battery->cranking_a > 0.0) {
    struct tv_standard_test crank = tv_cranking_test(battery->cranking_standard);
    double v = tv_constant_current_v(&test, TV_CRANKING_C, battery->cranking_a, crank.seconds, NULL);
    add(writer, "    cold cranking   %s A %s%s at -18 C: %s V after %s s (%s wanted)\n",
        tv_fixed(battery->cranking_a, 0).text, tv_cranking_word(battery->cranking_standard),
        battery->cranking_assumed ? ", assumed," : "", tv_fixed(v, 2).text, tv_fixed(crank.seconds, 0).text,
        tv_fixed(crank.volts, 1).text);
  }
}

static void explain_chemistry(const struct tv_battery *battery, struct writer *writer) {
  const struct tv_battery_kind *kind = battery->kind;
  struct tv_battery_state warm, cold;
  tv_battery_rest(battery, TV_LABEL_C, &warm);
  tv_battery_rest(battery, TV_CRANKING_C, &cold);
  add(writer,
      "  wells (rate and temperature): %s %% at once available, exchange %s per h; at -18 C %s %%, "
      "%s\n",
      tv_fixed(100.0 * warm.cache.available_frac, 1).text,
      tv_fixed(3600.0 * warm.cache.exchange_per_s, 2).text,
      tv_fixed(100.0 * cold.cache.available_frac, 1).text,
      tv_fixed(3600.0 * cold.cache.exchange_per_s, 2).text);
  add(writer, "  charge transfer: %s mohm for small currents, %s mV at 100 A, %s mV at 500 A; surface %s F\n",
      tv_fixed(1e3 * warm.cache.transfer_v / warm.cache.transfer_a, 2).text,
      tv_fixed(1e3 * warm.cache.transfer_v * asinh(100.0 / warm.cache.transfer_a), 0).text,
      tv_fixed(1e3 * warm.cache.transfer_v * asinh(500.0 / warm.cache.transfer_a), 0).text,
      tv_fixed(battery->branch_f[0], 0).text);
  add(writer, "  slow polarization: %s mohm, %s s\n", tv_fixed(1e3 * battery->branch_ohm[1], 2).text,
      tv_fixed(battery->branch_s[1], 0).text);
  if (battery->branch_f[2] > 0.0)
    add(writer,
        "  surface charge: %s F, at rest %s mV less with each doubling of the time; gone with %s Ah drawn\n",
        tv_fixed(battery->branch_f[2], 0).text, tv_fixed(1e3 * kind->tail_v * log(2.0), 0).text,
        tv_fixed(0.5 * battery->branch_f[2] / 3600.0, 2).text);
  add(writer,
      "  charging: %s A per volt of overvoltage at 60 %%, %s at 90 %%; stored %s %% until near full\n",
      tv_fixed(0.4 * warm.cache.accept_a_per_v, 1).text, tv_fixed(0.1 * warm.cache.accept_a_per_v, 1).text,
      tv_fixed(100.0 * kind->store_frac, 1).text);
  double full_v = tv_curve_at(&battery->curve, 1.0, NULL);
  double idle_a = warm.cache.gas_a * exp(kind->gas_per_v * (full_v - kind->gas_at_v));
  double hold_a = warm.cache.gas_a * exp(kind->gas_per_v * (14.4 - kind->gas_at_v));
  add(writer, "  gassing: %s mA at 14.4 V; self-discharge %s mA, %s %% a month\n",
      tv_fixed(1e3 * hold_a, 0).text, tv_fixed(1e3 * idle_a, 1).text,
      tv_fixed(100.0 * idle_a * 730.0 * 3600.0 / battery->usable_c, 1).text);
  if (battery->guarded)
    add(writer, "  pack protection: no charging below 0 C or above full; opens below 10 V and above %s A\n",
        tv_fixed(battery->overload_a, 0).text);
}

size_t tv_battery_explain(const struct tv_battery *battery, char *text, size_t size) {
  struct writer writer = {text, size, 0};
  if (size > 0) text[0] = '\0';
  struct tv_battery_state warm, cold;
  tv_battery_rest(battery, TV_LABEL_C, &warm);
  tv_battery_rest(battery, TV_CRANKING_C, &cold);
  warm.charge_c = cold.charge_c = battery->usable_c;
  add(&writer, "battery %s: %s, %s Ah, usable %s Ah\n", battery->name, tv_battery_word(battery->kind->kind),
      tv_significant(battery->label_ah, 4).text, tv_significant(battery->usable_c / 3600.0, 4).text);
  if (battery->solved) explain_tests(battery, &writer);
  add(&writer, "  rested voltage %s V full, %s V half, %s V empty at 25 C%s\n",
      tv_fixed(tv_curve_at(&battery->curve, 1.0, NULL), 2).text,
      tv_fixed(tv_curve_at(&battery->curve, 0.5, NULL), 2).text,
      tv_fixed(tv_curve_at(&battery->curve, 0.0, NULL), 2).text, battery->fixed_ocv ? " (given)" : "");
  double warm_ohm = tv_battery_resistance_ohm(battery, &warm),
         cold_ohm = tv_battery_resistance_ohm(battery, &cold);
  warm.charge_c = 0.5 * battery->usable_c;
  add(&writer, "  ohmic resistance %s mohm full, %s half at 25 C; %s full at -18 C%s\n",
      tv_fixed(1e3 * warm_ohm, 2).text, tv_fixed(1e3 * tv_battery_resistance_ohm(battery, &warm), 2).text,
      tv_fixed(1e3 * cold_ohm, 2).text, battery->fixed_ohmic ? " (given)" : "");
  if (battery->circuit) {
    for (int b = 0; b < battery->branch_count; b++)
      add(&writer, "  polarization %s mohm, %s s (given)\n", tv_fixed(1e3 * battery->branch_ohm[b], 2).text,
          tv_significant(battery->branch_s[b], 3).text);
    add(&writer,
        "  given as a circuit: no dependence on rate, no limit of charging, no gassing below full\n");
  } else {
    explain_chemistry(battery, &writer);
  }
  return writer.length;
}
