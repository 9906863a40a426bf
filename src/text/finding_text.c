#include "text/finding_text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "text/words.h"

/* What the sentences are made of. */
struct say {
  const struct tailvolt_finding *f;
  bool us;
  char *to;
  size_t size;
  char part[TAILVOLT_FINDING_PARTS][TAILVOLT_NAME_MAX + 16]; /* "fuse main" */
  const char *name[TAILVOLT_FINDING_PARTS];                  /* "main" */
  const char *wire[TAILVOLT_FINDING_PARTS];                  /* "8 AWG" */
};

/* Whole numbers: a rule of the trade is no more exact than that. */
static struct tv_number whole(double value) { return tv_fixed(value, 0); }

/* "at most 60 A", or that none of the kind is small enough. */
static struct tv_number most(double most_a) {
  struct tv_number text = {"no fuse of this kind is small enough"};
  if (!isnan(most_a)) snprintf(text.text, sizeof text.text, "at most %.24s A", tv_compact(most_a, 1).text);
  return text;
}

/* The current of a short circuit to the nearest 100 A: its resistance is known no better. Still above what the fuse
 * can break where it is so. */
static struct tv_number short_circuit(const struct tailvolt_finding *f) {
  double hundreds = round(f->current_a / 100.0);
  if (100.0 * hundreds <= f->limit_a) hundreds = ceil(f->current_a / 100.0);
  return whole(100.0 * hundreds);
}

#define SAY(...) snprintf(s->to, s->size, __VA_ARGS__)

static void say_wiring(const struct say *s) {
  const struct tailvolt_finding *f = s->f;
  struct tv_number far = tv_length(f->length_m, s->us), limit = tv_length(f->limit_m, s->us);
  switch ((int)f->kind) {
  case TAILVOLT_FOUND_SHORT_CIRCUIT:
    SAY("%s: its positive post is joined to a negative post by conductors alone, a short circuit", s->part[0]);
    break;
  case TAILVOLT_FOUND_CABLE_UNFUSED:
    SAY("%s (%s) at %s has no fuse: one is needed within %s of cable from its post", s->part[0], s->wire[0], s->part[1],
        limit.text);
    break;
  case TAILVOLT_FOUND_CABLE_UNFUSED_FACTORY:
    SAY("%s at %s has no fuse: customary for factory charge and starter leads; fuse a charge lead when you replace it",
        s->part[0], s->part[1]);
    break;
  case TAILVOLT_FOUND_AMPLIFIER_UNFUSED:
    SAY("%s is fed from %s without a fuse", s->part[0], s->part[1]);
    break;
  case TAILVOLT_FOUND_GROUND_THINNER:
    SAY("%s (%s) on the ground side is thinner than the feed of %s (%s): make it as strong", s->part[0], s->wire[0],
        s->part[1], s->wire[2]);
    break;
  case TAILVOLT_FOUND_CLAD_ALUMINIUM:
    SAY("%s (%s) is clad aluminium: counts as copper 2 sizes thinner, %s A at most; crimp, do not solder, keep dry",
        s->part[0], s->wire[0], whole(f->limit_a).text);
    break;
  case TAILVOLT_FOUND_CABLE_UNDERSIZE:
    SAY("%s (%s) has %s mohm where its size has %s mohm: undersize, clad aluminium, or a poor joint measured with it; trust "
        "the measured figure", s->part[0], s->wire[0], tv_compact(1e3 * f->resistance_ohm, 1).text,
        tv_compact(1e3 * f->limit_ohm, 1).text);
    break;
  case TAILVOLT_FOUND_CABLE_BELOW_FUSES:
    SAY("%s (%s) carries %s A, but the on-board fuses of %s pass %s A: too thin", s->part[0], s->wire[0],
        whole(f->limit_a).text, s->part[1], whole(f->current_a).text);
    break;
  case TAILVOLT_FOUND_FUSE_FAR:
    SAY("%s is %s of cable from %s (at most %s)", s->part[0], far.text, s->part[1], limit.text);
    break;
  case TAILVOLT_FOUND_FUSE_UNUSABLY_FAR:
    SAY("%s is %s of cable from %s: that cable counts as unfused (at most %s)", s->part[0], far.text, s->part[1],
        limit.text);
    break;
  case TAILVOLT_FOUND_FUSE_PLACE_UNKNOWN:
    SAY("%s: its distance from %s is not stated; at most %s of cable", s->part[0], s->part[1], limit.text);
    break;
  case TAILVOLT_FOUND_FUSE_ASSUMED_INSIDE:
    SAY("fit %s A before %s (%s is not in your file)", tv_compact(f->current_a, 1).text, s->part[1], s->part[0]);
    break;
  case TAILVOLT_FOUND_FUSE_ASSUMED:
    SAY("fit %s A within %s of %s (%s is not in your file)", tv_compact(f->current_a, 1).text, limit.text, s->part[1],
        s->part[0]);
    break;
  }
}

static void say_fuses(const struct say *s) {
  const struct tailvolt_finding *f = s->f;
  struct tv_number rating = tv_compact(f->current_a, 1), rated = tv_compact(f->limit_a, 1);
  switch ((int)f->kind) {
  case TAILVOLT_FOUND_FUSE_TOO_BIG:
    SAY("%s %s A too big for %s%s (%s): %s carries %s A in air of %s with insulation for %s", s->part[0], rating.text,
        s->wire[1], f->clad ? " clad aluminium" : "", most(f->most_a).text, s->part[1], whole(f->limit_a).text,
        tv_temperature(f->air_c, s->us).text, tv_temperature(f->limit_c, s->us).text);
    break;
  case TAILVOLT_FOUND_FUSE_NO_STEP_DOWN:
    SAY("%s %s A suits %s but not %s of %s behind it (%s): fit another fuse at the step down", s->part[0], rating.text,
        s->wire[2], s->wire[1], s->part[1], most(f->most_a).text);
    break;
  case TAILVOLT_FOUND_FUSES_SUM:
    SAY("%s (%s) is fed through several fuses at once, %s A in sum, but carries only %s A: fuse it where they meet", s->part[0],
        s->wire[0], whole(f->current_a).text, whole(f->limit_a).text);
    break;
  case TAILVOLT_FOUND_FUSE_IN_GROUND:
    SAY("%s is in a ground lead, where no fuse belongs: when it opens, the current returns through the signal leads", s->part[0]);
    break;
  case TAILVOLT_FOUND_FUSE_VOLTAGE:
    SAY("%s is rated %s V, below the %s V that a 12 V car can reach: its arc may not go out", s->part[0],
        whole(f->voltage_v).text, whole(f->limit_v).text);
    break;
  case TAILVOLT_FOUND_FUSE_VOLTAGE_UNUSUAL:
    SAY("%s is rated %s V: fuses for cars are made for %s V", s->part[0], whole(f->voltage_v).text,
        whole(f->limit_v).text);
    break;
  case TAILVOLT_FOUND_FUSE_BREAKING:
    SAY("%s: a short circuit just behind it could draw %s A, more than the %s A that such a fuse can break: keep that "
        "stretch sheathed", s->part[0], short_circuit(f).text, whole(f->limit_a).text);
    break;
  case TAILVOLT_FOUND_FUSE_OPENS:
    SAY("%s %s A opens at %s s: %s A rms, %s A at the peak", s->part[0], rated.text, tv_fixed(f->time_s, 1).text,
        whole(f->current_a).text, whole(f->peak_a).text);
    break;
  case TAILVOLT_FOUND_FUSE_LOADED:
    SAY("%s %s A carries %s A: %s %% of its rating, at most %s A for hours in air of %s", s->part[0], rated.text,
        whole(f->current_a).text, whole(100.0 * f->current_a / f->limit_a).text, whole(f->most_a).text,
        tv_temperature(f->air_c, s->us).text);
    break;
  case TAILVOLT_FOUND_FUSE_MAY_OPEN:
    SAY("%s %s A may open: a fast one of its kind would have, at %s A rms and %s A at the peak", s->part[0],
        rated.text, whole(f->current_a).text, whole(f->peak_a).text);
    break;
  case TAILVOLT_FOUND_FUSE_INRUSH:
    SAY("%s %s A may open when %s joins an empty %s: up to %s A", s->part[0], rated.text, s->part[2], s->part[1],
        whole(f->current_a).text);
    break;
  }
}

static void say_heat(const struct say *s) {
  const struct tailvolt_finding *f = s->f;
  struct tv_number hot = tv_temperature(f->temperature_c, s->us), limit = tv_temperature(f->limit_c, s->us);
  const char *what = f->part[0].kind == TAILVOLT_PART_FUSE ? "holder of " : "";
  switch ((int)f->kind) {
  case TAILVOLT_FOUND_CABLE_RUNS_AWAY:
    SAY("%s runs away at %s A: its temperature never settles (insulation for %s)", s->part[0], whole(f->current_a).text, limit.text);
    break;
  case TAILVOLT_FOUND_CABLE_TOO_HOT:
    SAY("%s reaches %s at %s A, above its insulation's %s", s->part[0], hot.text, whole(f->current_a).text, limit.text);
    break;
  case TAILVOLT_FOUND_CABLE_NEARLY_TOO_HOT:
    SAY("%s reaches %s at %s A, within %s K of its insulation's %s", s->part[0], hot.text, whole(f->current_a).text,
        whole(f->margin_k).text, limit.text);
    break;
  case TAILVOLT_FOUND_JOINT_HOT:
    SAY("%s%s turns %s W into heat at %s A (at most %s W): clean and tighten it", what, s->part[0],
        tv_fixed(f->power_w, 1).text, whole(f->current_a).text, whole(f->limit_w).text);
    break;
  case TAILVOLT_FOUND_JOINT_WARM:
    SAY("%s%s turns %s W into heat at %s A: above %s W, inspect it", what, s->part[0], tv_fixed(f->power_w, 1).text,
        whole(f->current_a).text, whole(f->limit_w).text);
    break;
  }
}

static void say_parts(const struct say *s) {
  const struct tailvolt_finding *f = s->f;
  struct tv_number volts = tv_fixed(f->voltage_v, 1), limit = tv_fixed(f->limit_v, 1);
  switch ((int)f->kind) {
  case TAILVOLT_FOUND_AMPLIFIER_FUSES:
    SAY("%s: %s W would take %s A, which its own fuses of %s A cannot carry: about %s W at most", s->part[0],
        whole(f->power_w).text, whole(f->current_a).text, whole(f->limit_a).text, whole(f->limit_w).text);
    break;
  case TAILVOLT_FOUND_CAPACITOR_PRECHARGE:
    SAY("%s (%s F): pre-charge it through a resistor or lamp before connecting it, discharge it before working on it; "
        "cells in series need balancing", s->part[0], tv_compact(f->capacitance_f, f->capacitance_f < 10.0 ? 2 : 0).text);
    break;
  case TAILVOLT_FOUND_CAPACITOR_VOLTAGE:
    SAY("%s is rated %s V, below the charging voltage of %s V", s->part[0], volts.text, limit.text);
    break;
  case TAILVOLT_FOUND_ISOLATOR_RATING_UNKNOWN:
    SAY("%s: its rating is not stated, so its current could not be checked", s->part[0]);
    break;
  case TAILVOLT_FOUND_ISOLATOR_INRUSH:
    SAY("%s may have to carry %s A when it closes onto an empty %s, above its %s A", s->part[0], whole(f->current_a).text, s->part[1],
        whole(f->limit_a).text);
    break;
  case TAILVOLT_FOUND_CONVERTER_VOLTAGE:
    SAY("%s gives %s V: above %s V lamps and electronics suffer", s->part[0], volts.text, limit.text);
    break;
  case TAILVOLT_FOUND_SET_POINT_HIGH:
    SAY("alternator: a set point of %s V puts the posts above %s V, where lamps and electronics suffer", volts.text,
        limit.text);
    break;
  case TAILVOLT_FOUND_CHARGING_COMPUTER:
    SAY("computer-controlled charging lets the set point swing from %s to %s V: try both ends in the profile", volts.text,
        limit.text);
    break;
  case TAILVOLT_FOUND_CHARGING_HYBRID:
    SAY("hybrid: do not touch orange cable, it may carry hundreds of volts; the 12 V converter cannot give more than its limit");
    break;
  case TAILVOLT_FOUND_SENSOR_GROUNDS:
    SAY("the car has a battery sensor: every ground goes to the body, none to the battery's negative post");
    break;
  case TAILVOLT_FOUND_SENSOR_BYPASSED:
    SAY("%s is grounded at the battery's post and bypasses the battery sensor: ground it to the body", s->part[0]);
    break;
  case TAILVOLT_FOUND_SENSOR_SECOND_BATTERY:
    SAY("%s: the battery sensor does not see its charge, so the car miscounts: connect it through a converter",
        s->part[0]);
    break;
  }
}

static void say_batteries(const struct say *s) {
  const struct tailvolt_finding *f = s->f;
  const char *kind = tv_battery_word(f->battery), *place = tv_place_word(f->place);
  struct tv_number at = tv_temperature(f->temperature_c, s->us), limit = tv_temperature(f->limit_c, s->us);
  switch ((int)f->kind) {
  case TAILVOLT_FOUND_BATTERY_IN_CABIN:
    SAY("%s (%s) in the %s: sealed, fastened, posts covered, vented outside where it can gas", s->part[0], kind, place);
    break;
  case TAILVOLT_FOUND_BATTERY_GASSES:
    SAY("%s (%s) in the %s has no vent: it gives off hydrogen; fit a sealed kind, or a vent tube to the outside",
        s->part[0], kind, place);
    break;
  case TAILVOLT_FOUND_BATTERY_FREEZES:
    SAY("%s would freeze and burst: at %s %% charge its acid freezes at %s and the air is at %s", s->part[0],
        whole(100.0 * f->charge_frac).text, limit.text, at.text);
    break;
  case TAILVOLT_FOUND_LITHIUM_CARE:
    SAY("%s is lithium-iron: no charging below %s, not under the bonnet, its protection may cut out", s->part[0],
        tv_temperature(0.0, s->us).text);
    break;
  case TAILVOLT_FOUND_LITHIUM_ON_LEAD:
    SAY("%s (lithium-iron) is joined to %s by %s: nothing but its own protection limits the charge to it, up to %s A: "
        "charge it through a converter", s->part[0], s->part[1], f->part_count > 2 ? s->part[2] : "cable alone",
        whole(f->current_a).text);
    break;
  case TAILVOLT_FOUND_LITHIUM_FROST:
    SAY("%s (lithium-iron) would be charged at %s: below %s charging ruins its cells", s->part[0], at.text, limit.text);
    break;
  case TAILVOLT_FOUND_LITHIUM_BAY:
    SAY("%s (lithium-iron) is in the engine bay at %s: its cells are made for at most %s", s->part[0], at.text, limit.text);
    break;
  case TAILVOLT_FOUND_LITHIUM_VOLTAGE:
    SAY("%s: the alternator's %s V is above the %s V that lithium-iron cells can take", s->part[0],
        tv_fixed(f->voltage_v, 1).text, tv_fixed(f->limit_v, 1).text);
    break;
  }
}

static void say_figures(const struct say *s) {
  const struct tailvolt_finding *f = s->f;
  switch ((int)f->kind) {
  case TAILVOLT_FOUND_REST_MOVING:
    SAY("charging is at its limit even with the music off: the rest voltage is that of the first instant and still "
        "rising, so the sag is counted from the wrong voltage (--settle 60s shows it settled)");
    break;
  case TAILVOLT_FOUND_CREST_BELOW_SINE:
    SAY("music %s: its crest factor of %s dB is below that of a sine (%s dB): it is clipped throughout", s->name[0],
        tv_fixed(f->crest_db, 2).text, tv_fixed(f->limit_db, 2).text);
    break;
  case TAILVOLT_FOUND_RIPPLE_COARSE:
    SAY("the time step is coarser than the ripple of the bass note needs: the deepest dips are averaged away");
    break;
  case TAILVOLT_FOUND_NO_START:
    SAY("the car does not start at %s: %s V at the posts while cranking, and the starter needs %s V; the run goes on as if it "
        "had", tv_clock(f->time_s).text, tv_fixed(f->voltage_v, 1).text, tv_fixed(f->limit_v, 1).text);
    break;
  case TAILVOLT_FOUND_OVERVOLTAGE:
    SAY("the supply rises to %s V, and a vehicle's electronics are made for %s V at most (ISO 16750-2)%s%s%s",
        tv_fixed(f->voltage_v, 1).text,
        tv_fixed(f->limit_v, 0).text, f->part_count > 0 ? ": when the music stops the alternator takes a moment to let go, and " : "",
        f->part_count > 0 ? s->part[0] : "", f->part_count > 0 ? ", too cold or full, takes no charge" : "");
    break;
  case TAILVOLT_FOUND_LOAD_COLLAPSED:
    SAY("a constant-power load asked for more than the supply could give, first at %s: it was left out of those steps",
        tv_clock(f->time_s).text);
    break;
  }
}

/* "fuse main"; a battery without a name is the battery. */
static void name_part(const struct tailvolt_part *part, char *to, size_t size) {
  tv_section_words(part->kind, part->name, to, size);
  if (part->kind == TAILVOLT_PART_BATTERY && strcmp(to, "battery") == 0) snprintf(to, size, "the battery");
}

void tailvolt_finding_text(const struct tailvolt_finding *finding, bool us_units, char *to, size_t size) {
  struct say say = {.f = finding, .us = us_units, .to = to, .size = size};
  if (size == 0) return;
  to[0] = '\0';
  for (int k = 0; k < TAILVOLT_FINDING_PARTS; k++) {
    const struct tailvolt_part *part = &finding->part[k];
    if (k < finding->part_count) name_part(part, say.part[k], sizeof say.part[k]);
    say.name[k] = part->name;
    say.wire[k] = part->size;
  }
  /* each handles its own kinds */
  void (*const writers[])(const struct say *) = {say_wiring, say_fuses, say_heat, say_parts, say_batteries, say_figures};
  for (size_t k = 0; k < sizeof writers / sizeof writers[0] && to[0] == '\0'; k++) writers[k](&say);
}

bool tv_finding_same(const struct tailvolt_finding *a, const struct tailvolt_finding *b) {
  if (a->kind != b->kind || a->part_count != b->part_count) return false;
  for (int k = 0; k < a->part_count; k++)
    if (a->part[k].kind != b->part[k].kind || a->part[k].index != b->part[k].index ||
        strcmp(a->part[k].name, b->part[k].name) != 0)
      return false;
  return true;
}
