/* Sizes and fuses that the file leaves open.
 *
 * A cable is the smallest of the series that loses at most 0.5 V over feed and ground at the rated draw,
 *   I = rated power / efficiency / 13.5 V,   (R_feed + R_ground) I <= 0.5 V,
 * and whose insulation is protected by the fuse. A fuse is the smallest standard one not below what it feeds: the
 * on-board fuses of the amplifiers, else their rated draw; never above what a given cable can carry. (0.5 V: about 4
 * % of 13.5 V, between the 3 % and 10 % of boat wiring, ABYC E-11; common practice.) */
#include <math.h>
#include <string.h>

#include "input/system_draft.h"
#include "parts/conductor.h"
#include "parts/fuse.h"

static const double LOSS_V = 0.5;
static const double DRAW_V = 13.5;
/* between batteries, where nothing says how much current flows: a common split-charge relay (common
 * practice) */
static const double LINK_A = 100.0;

/* The sizes sold in the trade, thinnest first. */
static const char *const series[] = {"10 AWG",  "8 AWG",   "4 AWG",       "2 AWG",       "1/0 AWG",
                                     "2/0 AWG", "4/0 AWG", "2 x 2/0 AWG", "2 x 4/0 AWG", "4 x 4/0 AWG"};
enum { SERIES = sizeof series / sizeof series[0] };

static bool is_sized(const struct tv_part *part) {
  return tv_has(part, TV_K_SIZE) || tv_has(part, TV_K_STRANDS) || tv_has(part, TV_K_CONDUCTOR_DIAMETER) ||
         tv_has(part, TV_K_PER_METRE);
}

static double rated_draw_a(const struct tv_part *amplifier) {
  const struct tv_value *channels = amplifier->value[TV_K_CHANNELS];
  double rated_w = channels != NULL ? channels->x[0] * channels->y[0] : tv_number(amplifier, TV_K_RATED_POWER);
  return rated_w / tv_number(amplifier, TV_K_EFFICIENCY) / DRAW_V;
}

/* What a feed must carry at the rated draw, and what its fuse must not be below. */
struct demand {
  double draw_a, fuse_a;
};

static void add_amplifier(struct demand *demand, const struct tv_part *amplifier) {
  const struct tv_value *fuses = amplifier->value[TV_K_ONBOARD_FUSES];
  double draw_a = rated_draw_a(amplifier);
  if (!isfinite(draw_a)) return;
  demand->draw_a += draw_a;
  demand->fuse_a += fuses != NULL && !fuses->bad ? fuses->x[0] * fuses->y[0] : draw_a;
}

static struct demand demand_of(const struct tv_draft *draft, const struct tv_feed *feed) {
  struct demand demand = {0.0, 0.0};
  if (feed->battery != NULL) {
    const struct tv_value *output = feed->isolator == NULL ? NULL : feed->isolator->value[TV_K_ISO_OUTPUT];
    demand.fuse_a = tv_number(feed->isolator, TV_K_ISO_RATING);
    if (output != NULL && output->count > 0)
      demand.fuse_a = tv_fuse_for_converter_a(output->x[0], output->y[0], tv_number(feed->isolator, TV_K_ISO_EFFICIENCY));
    if (!isfinite(demand.fuse_a)) demand.fuse_a = LINK_A;
    return demand;
  }
  if (feed->amplifier != NULL) {
    add_amplifier(&demand, feed->amplifier);
    return demand;
  }
  for (int p = 0; p < draft->part_count; p++)
    if (draft->parts[p]->kind == TV_KIND_AMPLIFIER && draft->parts[p]->on_common_feed)
      add_amplifier(&demand, draft->parts[p]);
  return demand;
}

/* The smallest standard fuse not below `least_a` and not above `most_a`, of the kind that the file names or that
 * is usual for the current; NAN where there is none. */
static double smallest_fuse_a(const struct tv_part *fuse, double least_a, double most_a) {
  if (tv_has(fuse, TV_K_FUSE_KIND))
    return tv_fuse_standard_rating_a((enum tailvolt_fuse_kind)tv_word(fuse, TV_K_FUSE_KIND), least_a, most_a);
  double blade_a = tv_fuse_standard_rating_a(TAILVOLT_BLADE, least_a, fmin(most_a, 30.0));
  return isfinite(blade_a) ? blade_a : tv_fuse_standard_rating_a(TAILVOLT_BOLT_DOWN, least_a, most_a);
}

static double largest_fuse_a(const struct tv_part *fuse, double most_a) {
  if (tv_has(fuse, TV_K_FUSE_KIND))
    return tv_fuse_largest_rating_a((enum tailvolt_fuse_kind)tv_word(fuse, TV_K_FUSE_KIND), most_a);
  double bolted_a = tv_fuse_largest_rating_a(TAILVOLT_BOLT_DOWN, most_a);
  return isfinite(bolted_a) ? bolted_a : tv_fuse_largest_rating_a(TAILVOLT_BLADE, most_a);
}

/* The cable that would have the drop measured on it; false where none was measured, or no cable has it. */
static bool as_measured(const struct tv_part *cable, struct tailvolt_conductor *section) {
  const struct tv_value *drop = cable->value[TV_K_MEASURED_DROP];
  double length_m = tv_number(cable, TV_K_LENGTH);
  struct tv_section round = {0};
  if (drop == NULL || drop->bad || !(length_m > 0.0)) return false;
  section->resistance_ohm = drop->x[0] / drop->y[0] / length_m;
  if (section->outer_m > 0.0) return true; /* its size is given: thinner inside than it looks */
  if (!tv_section_from_resistance(section->resistance_ohm, TAILVOLT_COPPER, &round)) return false;
  section->area_m2 = tv_material_resistivity_ohm_m(TAILVOLT_COPPER) / round.r20_ohm_per_m;
  section->outer_m = round.outer_m;
  section->temperature_per_k = tv_material_temperature_per_k(TAILVOLT_COPPER);
  section->parallel = 1;
  return true;
}

/* Current that a cable's insulation allows where it lies, as the verdict counts it: in air of 40 C at
 * least. */
static double bears_a(struct tv_draft *draft, const struct tv_part *cable) {
  struct tailvolt_conductor section = {.length_m = 1.0};
  bool sized = tv_cable_section(NULL, cable, &section);
  /* by what was measured, as the verdict counts it */
  if (!as_measured(cable, &section) && !sized) return 0.0;
  const struct tv_part *vehicle = tv_draft_find(draft, TV_KIND_VEHICLE, "");
  double air_c = fmax(40.0, tv_number(vehicle, TV_K_AMBIENT));
  if (tv_word(cable, TV_K_PLACE) == TAILVOLT_ENGINE_BAY)
    air_c = fmax(tv_number(vehicle, TV_K_ENGINE_BAY), tv_number(vehicle, TV_K_AMBIENT));
  if (tv_has(cable, TV_K_LAID)) section.laid = (enum tailvolt_laid)tv_word(cable, TV_K_LAID);
  if (section.material == TAILVOLT_CLAD_ALUMINIUM)
    section.outer_m *= pow(92.0, -2.0 / 39.0); /* two gauges thinner, as copper of that resistance is */
  double limit_c = tv_has(cable, TV_K_INSULATION) ? tv_number(cable, TV_K_INSULATION) : 85.0;
  return tv_conductor_ampacity_a(&section, limit_c, air_c);
}

static double ohm_per_m(const struct tv_part *cable) {
  struct tailvolt_conductor section = {.length_m = 1.0};
  return tv_cable_section(NULL, cable, &section) ? section.resistance_ohm : (double)NAN;
}

/* The ground lead has the size and material of the feed. */
static void size_like_feed(struct tv_draft *draft, struct tv_part *lead, const struct tv_part *feed) {
  static const enum tv_key_id same[] = {TV_K_SIZE, TV_K_STRANDS, TV_K_CONDUCTOR_DIAMETER, TV_K_PER_METRE};
  if (lead == NULL) return;
  bool sized = is_sized(lead);
  for (size_t k = 0; k < sizeof same / sizeof same[0] && !sized; k++)
    if (tv_has(feed, same[k]) && !feed->value[same[k]]->bad) tv_assume_same(draft, lead, same[k], feed);
  /* for a feed that was measured and has no stated size: the smallest with no more resistance */
  struct tailvolt_conductor measured = {0};
  for (int k = 0; k < SERIES && !sized && !is_sized(feed) && as_measured(feed, &measured) && !draft->no_memory; k++) {
    tv_choose(draft, lead, TV_K_SIZE, series[k], k == SERIES - 1);
    if (k == SERIES - 1 || !(ohm_per_m(lead) <= measured.resistance_ohm)) continue;
    tv_choose(draft, lead, TV_K_SIZE, series[k], true);
    break;
  }
  if (tv_has(feed, TV_K_MATERIAL) && !feed->value[TV_K_MATERIAL]->bad)
    tv_assume_same(draft, lead, TV_K_MATERIAL, feed);
}

/* True where a cable of its present size loses little enough and is protected by the fuse. */
static bool is_enough(struct tv_draft *draft, const struct tv_feed *feed, struct demand demand) {
  double length_m = tv_number(feed->cable, TV_K_LENGTH), per_m = ohm_per_m(feed->cable), ohm = per_m * length_m;
  if (feed->ground != NULL)
    ohm += (is_sized(feed->ground) ? ohm_per_m(feed->ground) : per_m) * tv_number(feed->ground, TV_K_LENGTH);
  double bears = bears_a(draft, feed->cable);
  double fuse_a = tv_has(feed->fuse, TV_K_RATING) ? tv_number(feed->fuse, TV_K_RATING)
                                                  : smallest_fuse_a(feed->fuse, demand.fuse_a, HUGE_VAL);
  return ohm * demand.draw_a <= LOSS_V && (fuse_a <= bears || !isfinite(fuse_a));
}

static void choose_size(struct tv_draft *draft, const struct tv_feed *feed, struct demand demand) {
  struct tv_part *cable = feed->cable;
  if (cable == NULL || is_sized(cable) || tv_has(cable, TV_K_MEASURED_DROP)) return;
  if (!tv_has(cable, TV_K_LENGTH) || cable->value[TV_K_LENGTH]->bad) return;
  for (int k = 0; k < SERIES && !draft->no_memory; k++) {
    tv_choose(draft, cable, TV_K_SIZE, series[k], k == SERIES - 1);
    if (k == SERIES - 1) return;
    if (is_enough(draft, feed, demand)) {
      tv_choose(draft, cable, TV_K_SIZE, series[k], true);
      return;
    }
  }
}

static void choose_fuse(struct tv_draft *draft, struct tv_part *fuse, const struct tv_part *cable, double need_a) {
  if (fuse == NULL || tv_has(fuse, TV_K_RATING) || cable == NULL) return;
  double bears = bears_a(draft, cable);
  double rating_a = smallest_fuse_a(fuse, need_a, bears);
  if (!isfinite(rating_a)) rating_a = largest_fuse_a(fuse, bears);
  tv_choose_number(draft, fuse, TV_K_RATING, isfinite(rating_a) ? rating_a : 5.0);
}

void tv_choose_sizes(struct tv_draft *draft) {
  for (int f = 0; f < draft->feed_count && !draft->no_memory; f++) {
    const struct tv_feed *feed = &draft->feeds[f];
    struct demand demand = demand_of(draft, feed);
    choose_size(draft, feed, demand);
    size_like_feed(draft, feed->ground, feed->cable);
    choose_fuse(draft, feed->fuse, feed->cable, demand.fuse_a);
    choose_fuse(draft, feed->end_fuse, feed->cable, demand.fuse_a);
  }
}
