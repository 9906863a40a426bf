/* General cautions and fitting checklist (common practice of the trade and of battery makers). */
#include "parts/cautions.h"

static const char *const CAUTIONS[] = {
    "These figures are an estimate from what was typed in: measure at the car before you rely on them.",
    "Take the battery's negative lead off first and put it back last.",
    "Fit a fuse at every battery: the cable before it stays live and must be short and sheathed.",
    "A battery gives off hydrogen and can deliver hundreds of amperes: no sparks, no rings, eyes protected.",
    "A second battery in the cabin must be sealed, fastened, covered at its posts and vented outside.",
    "Charge a capacitor through a resistor before it is connected; discharge it before working on it.",
    "Run the engine in the open air only: exhaust gas kills in a closed garage.",
    "Keep cables away from fuel and brake lines, airbag wiring, steering, belts and hot or moving parts.",
    "Never touch orange cable: it belongs to the high-voltage side of a hybrid or electric car.",
    "Loud music harms hearing for good: keep the time short or wear protection.",
    "Follow the vehicle maker's instructions and local rules; beyond your training, ask a technician.",
};

/* `near` a battery, and `often` along the cable, in the reader's units. */
#define CHECKLIST(near, often)                                                                             \
  {                                                                                                        \
    "fuse and holder stamped for 32 V or more, dry, within " near " of cable from the battery post", \
    "a fuse at each end of a cable that joins two batteries, and at every step down to thinner cable", \
    "no fuse in a ground lead", \
    "a rubber grommet wherever cable passes through sheet metal, sleeve where it could chafe", \
    "cable clipped every " often ", no sharp bends, clear of seat rails and moving parts", \
    "lugs crimped with the tool made for them, sealed with shrink tube; ferrules in set screws", \
    "bright metal and a toothed washer under every ground lug, bolt tight, then sealed", \
    "ground lead as thick as the feed and as short as it can be, never on a seat-belt bolt", \
    "straps from battery to body and from engine to body as strong as the feed", \
    "battery clamps clean and tight, battery fastened, positive post covered", \
    "power cable on one side of the car, signal leads on the other", \
    "last, with the fuse still out: no path from the amplifier's plus to ground", \
    "then fit the fuse and measure the three lines of the report at the car", \
  }
static const char *const CHECKLIST_METRIC[] = CHECKLIST("45 cm", "30 cm");
static const char *const CHECKLIST_US[] = CHECKLIST("18 in", "12 in");

const char *const *tv_general_cautions(size_t *count) {
  *count = sizeof CAUTIONS / sizeof CAUTIONS[0];
  return CAUTIONS;
}

const char *const *tv_fitting_checklist(bool us_units, size_t *count) {
  *count = sizeof CHECKLIST_METRIC / sizeof CHECKLIST_METRIC[0];
  return us_units ? CHECKLIST_US : CHECKLIST_METRIC;
}
