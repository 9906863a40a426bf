#include "report/checklist.h"

#include <stddef.h>

const char *const tv_checklist[] = {
    "Take the battery's negative lead off before any work, and put it back last.",
    "Put a fuse at every battery, within 45 cm of cable; the stretch before it stays live.",
    "Choose each fuse for the cable behind it, never for the amplifier alone.",
    "Lead cable through bare metal only in a grommet; keep it clear of fuel and brake lines, of moving "
    "and hot parts, and of airbag wiring.",
    "Grind every ground lug's place to bare metal, bolt it tight, then seal it.",
    "Batteries give off hydrogen and can deliver hundreds of amperes: no sparks, no rings, eyes covered.",
    "A second battery in the cabin must be sealed, vented outside and fastened.",
    "Charge a capacitor through a resistor before its last lead goes on.",
    "Run an engine only in the open air.",
    "Loud music harms hearing.",
    NULL};

const char tv_estimate_note[] =
    "A simulation is an estimate: measure at the car before relying on it. Follow the vehicle maker's "
    "instructions and the rules in force where you are, and leave to a qualified technician what you are "
    "not trained for.";
