/* A remedy's cautions as sentences. Whatever the simulation cannot see is service practice. */
#include <stdio.h>

#include "tailvolt/remedy.h"
#include "text/number.h"

/* "" for those built from a finding, a reason or a number. */
static const char *plain(enum tailvolt_remedy_caution_kind kind) {
  switch (kind) {
  case TAILVOLT_REMEDY_FEED:
    return "feed: use a grommet wherever it passes through metal, keep it clear of fuel and brake lines and airbag wiring; "
           "disconnect the battery's negative lead first";
  case TAILVOLT_REMEDY_GROUND:
    return "ground: bare metal under every lug, protected against rust afterwards";
  case TAILVOLT_REMEDY_RETURN:
    return "return cable: keep the body ground of the amplifier as well, or its current takes the signal leads when the "
           "cable comes off";
  case TAILVOLT_REMEDY_CAPACITOR:
    return "capacitor: fasten it, fuse its lead where it is longer than 30 cm, never reverse its poles";
  case TAILVOLT_REMEDY_BATTERY:
    return "battery: same height and posts, vent tube refitted; in cars with battery management, register the new one";
  case TAILVOLT_REMEDY_SECOND_BATTERY:
    return "second battery: outside the cabin or sealed and vented outside, strapped down, posts covered, a fuse at each "
           "battery; its relay beside the first battery, behind the fuse of the feed; parked, it alone feeds the music";
  case TAILVOLT_REMEDY_SECOND_BY_CONVERTER:
    return "second battery: outside the cabin or sealed and vented outside, strapped down, posts covered, a fuse at each "
           "battery; its converter behind the fuse of the feed, away from the engine's heat, on by the ignition and set for AGM; parked, "
           "the second battery alone feeds the music";
  case TAILVOLT_REMEDY_BELT:
    return "alternator: belt, tensioner and pulley must carry the greater torque; slip wears the belt";
  case TAILVOLT_REMEDY_REGULATOR:
    return "alternator: its regulator must take its commands from the engine computer";
  case TAILVOLT_REMEDY_IDLE_SPEED:
    return "idle speed: only where the engine computer allows it; these runs raised the profile's idling rows to it, do the "
           "same in your profile";
  case TAILVOLT_REMEDY_IDLING:
    return "idling: outdoors only, exhaust gas kills";
  case TAILVOLT_REMEDY_SLOW_ROWS:
    return "rows of the profile below the idle speed were run at the idle speed";
  case TAILVOLT_REMEDY_CONVERTER:
    return "converter: it draws up to half as much again as it gives; the cable and the fuses before it must carry that";
  case TAILVOLT_REMEDY_TERMINALS:
    return "cable thicker than 1/0 AWG (50 mm2): many amplifiers and blocks take no more; look at their terminals before you buy, "
           "or lay two thinner runs side by side, each fused for itself";
  case TAILVOLT_REMEDY_SECOND_AS_NEW:
    return "a second battery is assumed new and charged as far as the first";
  case TAILVOLT_REMEDY_BOUND:
    return "the search stopped at its limit of runs: a cheaper set may exist";
  case TAILVOLT_REMEDY_FOUND:
  case TAILVOLT_REMEDY_ONLY_JUST:
  case TAILVOLT_REMEDY_CHARGE_LEAD:
    break;
  }
  return "";
}

void tailvolt_remedy_caution_text(const struct tailvolt_remedy_caution *caution, bool us_units, char *to, size_t size) {
  char text[TAILVOLT_TEXT_MAX];
  switch (caution->kind) {
  case TAILVOLT_REMEDY_FOUND:
    tailvolt_finding_text(&caution->finding, us_units, to, size);
    break;
  case TAILVOLT_REMEDY_ONLY_JUST:
    tailvolt_reason_text(&caution->reason, us_units, text, sizeof text);
    snprintf(to, size, "only just: %s", text);
    break;
  case TAILVOLT_REMEDY_CHARGE_LEAD:
    snprintf(to, size, "alternator: the factory charge lead and its fuse are made for the old one (%s A): replace both",
             tv_fixed(caution->current_a, 0).text);
    break;
  default:
    snprintf(to, size, "%s", plain(caution->kind));
  }
}
