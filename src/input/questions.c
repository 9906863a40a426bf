/* The ten questions. Defaults are the standard car's where it has one; what only the owner can know (powers, capacity,
 * feed) is the usual value for a small car (common practice), with the range over which cars differ. */
#include "input/questions.h"

#include <stddef.h>

#define COUNT(list) (int)(sizeof(list) / sizeof(list)[0])
#define CHOICES(list) .choices = list, .choice_count = COUNT(list)

static const struct tailvolt_answer_choice charging[] = {
    [TV_CHARGES_PLAIN] = {"plain", "plain alternator: a meter shows the same volts at idle and on the road"},
    [TV_CHARGES_COMPUTER] = {"computer", "computer-controlled: the volts move between about 12.4 and 14.8 while driving"},
    [TV_CHARGES_HYBRID] = {"hybrid", "hybrid or electric: a converter feeds the 12 V side"}};

static const struct tailvolt_answer_choice battery_kinds[] = {
    {"flooded", "ordinary, with or without caps"},
    {"EFB", "enhanced flooded, in cars with stop and start"},
    {"AGM", "absorbent glass mat, sealed"},
    {"gel", "gel"},
    {"lithium-iron", "lithium iron phosphate"}};

static const struct tailvolt_answer_choice places[] = {
    {"cabin", "in the cabin"}, {"engine bay", "under the bonnet"}, {"boot", "in the boot"}, {"bed", "in the load bed"}};

static const struct tailvolt_answer_choice materials[] = {
    {"copper", "solid copper all through"}, {"clad", "copper-clad aluminium, CCA: silver-grey where it is cut"}};

static const struct tailvolt_answer_choice laid[] = {
    [TV_FEED_LAID] = {"laid", "in the car already"},
    [TV_FEED_PLANNED] = {"not laid yet", "still to be bought: its size is then chosen"}};

static const struct tailvolt_answer_choice grounds[] = {
    [TV_GROUND_BODY] = {"body", "bare sheet metal of the body near the amplifier"},
    [TV_GROUND_BOLT] = {"seat bolt", "a bolt of a seat, with paint or thread lock"},
    [TV_GROUND_FRAME] = {"frame", "the frame of a van or truck"},
    [TV_GROUND_BATTERY] = {"battery", "the battery's negative post"}};

static const struct tailvolt_answer_choice lamps[] = {
    {"halogen", "halogen bulbs"}, {"LED", "LED or xenon: they hold their light"}};

static const struct tailvolt_answer_choice uses[] = {
    [TAILVOLT_USE_SHOW] = {"show", "a loud show: as loud as it goes without clipping"},
    [TAILVOLT_USE_DAILY] = {"daily", "daily driving: 10 dB below that"}};

static const struct tailvolt_answer_choice troubles[] = {
    [TV_TODAY_DIM] = {"dim", "lights dim"},
    [TV_TODAY_CUTS_OUT] = {"cuts out", "the amplifier cuts out"},
    [TV_TODAY_FLAT] = {"flat", "flat battery"},
    [TV_TODAY_NOTHING] = {"nothing", "nothing yet"}};

static const struct tailvolt_question questions[TAILVOLT_QUESTIONS] = {
    {TAILVOLT_ASK_CHARGING, "charging", "What charges it: plain alternator, computer-controlled, hybrid?",
     "A meter on the battery, engine running, tells: steady volts or moving ones. Orange cables mean a hybrid: leave them "
     "alone.",
     "plain", false, 1,
     {{"kind", TAILVOLT_FORM_CHOICE, NULL, NULL, "plain", NULL, "", CHOICES(charging)}}},
    {TAILVOLT_ASK_AMPLIFIERS, "amplifiers", "Continuous (RMS) watts of each amplifier, not max, and its own fuses?",
     "The manual or the label says RMS at 14.4 V; the fuses sit beside the terminals, their amps printed on them.",
     "bass 800 W, 2 x 40 A; tops 4 x 75 W, 30 A", true, 2,
     {{"power", TAILVOLT_FORM_NUMBER, "W or kW", "W", "500 W", NULL, "200 to 1000 W", NULL, 0},
      {"fuses", TAILVOLT_FORM_NUMBER, "A", NULL, "", NULL, "", NULL, 0}}},
    {TAILVOLT_ASK_ALTERNATOR, "alternator", "Alternator amps?",
     "Stamped or on a label on its back, such as 14V 110A. In a hybrid: the converter's amps, in the workshop manual.",
     "110 A", false, 1,
     {{"current", TAILVOLT_FORM_NUMBER, "A", "A", "90 A", "100 A", "70 to 140 A", NULL, 0}}},
    {TAILVOLT_ASK_BATTERY, "battery", "Battery: Ah, cold cranking amps, kind, where?",
     "On its label: Ah, then amps with EN, SAE (CCA) or DIN. AGM or EFB is printed in large letters.",
     "70 Ah, 640 A EN, flooded, engine bay", false, 4,
     {{"capacity", TAILVOLT_FORM_NUMBER, "Ah", "Ah", "60 Ah", "45 Ah", "45 to 80 Ah", NULL, 0},
      {"cold cranking", TAILVOLT_FORM_NUMBER, "A EN, A SAE (CCA) or A DIN", NULL, "", NULL, "6 to 11 A EN for each Ah", NULL,
       0},
      {"kind", TAILVOLT_FORM_CHOICE, NULL, NULL, "flooded", "AGM", "", CHOICES(battery_kinds)},
      {"place", TAILVOLT_FORM_CHOICE, NULL, NULL, "engine bay", "boot", "", CHOICES(places)}}},
    {TAILVOLT_ASK_FEED, "feed", "Feed: size, length, copper or clad?",
     "Printed on the cable. Length: along its way from battery to amplifier. Scrape a strand: grey inside is clad aluminium.",
     "8 AWG, 5.5 m, copper", false, 4,
     {{"size", TAILVOLT_FORM_SIZE, "AWG or mm2", NULL, "4 AWG", NULL, "8 AWG to 1/0 AWG", NULL, 0},
      {"length", TAILVOLT_FORM_NUMBER, "m, cm, mm, ft or in", NULL, "5 m", NULL, "4 to 6 m", NULL, 0},
      {"material", TAILVOLT_FORM_CHOICE, NULL, NULL, "copper", NULL, "", CHOICES(materials)},
      {"laid", TAILVOLT_FORM_CHOICE, NULL, NULL, "laid", NULL, "", CHOICES(laid)}}},
    {TAILVOLT_ASK_GROUND, "ground", "Where is the ground bolted, how long is its lead?",
     "Follow the thick lead from the amplifier's minus.", "body, 0.8 m", false, 2,
     {{"place", TAILVOLT_FORM_CHOICE, NULL, NULL, "body", NULL, "", CHOICES(grounds)},
      {"length", TAILVOLT_FORM_NUMBER, "m, cm, mm, ft or in", NULL, "1 m", NULL, "0.3 to 2 m", NULL, 0}}},
    {TAILVOLT_ASK_HEADLAMPS, "headlamps", "Headlamps: halogen or LED?",
     "A bulb that glows yellowish and gets hot is halogen. Xenon holds its light as LED does.", "halogen", false, 1,
     {{"kind", TAILVOLT_FORM_CHOICE, NULL, NULL, "halogen", NULL, "", CHOICES(lamps)}}},
    {TAILVOLT_ASK_USE, "use", "A loud show or daily driving?", "What the system must stand, not what it plays most days.",
     "show", false, 1, {{"use", TAILVOLT_FORM_CHOICE, NULL, NULL, "show", NULL, "", CHOICES(uses)}}},
    {TAILVOLT_ASK_PARKED, "parked", "Hours parked?", "How long it is to play with the engine off, and still start; 0 = never.",
     "2 h", false, 1, {{"time", TAILVOLT_FORM_NUMBER, "h or min", "h", "0 h", NULL, "0 to 4 h", NULL, 0}}},
    {TAILVOLT_ASK_TODAY, "today", "What is wrong today: lights dim, cuts out, flat battery, nothing yet?",
     "Ask who drives it.", "dim; flat", true, 1,
     {{"trouble", TAILVOLT_FORM_CHOICE, NULL, NULL, "nothing", NULL, "", CHOICES(troubles)}}}};

const struct tailvolt_question *tailvolt_question(int index) {
  return index >= 0 && index < TAILVOLT_QUESTIONS ? &questions[index] : NULL;
}
