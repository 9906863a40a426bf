#!/bin/sh
# Lesson 7: a tired battery.
. "$(dirname "$0")/lesson.sh"
title "7. A tired battery"
say "A battery may rest at a fine 12.6 V and still be worn out: it is the voltage under load that tells. Cranking health is what \
a battery tester finds of the cold cranking current on the label:"
keep 07-tired.csv vary car.ini engine-off.csv "battery.cranking health = 100 %, 80 %, 60 %, 40 %, 20 %"
draw 07-tired.svg "$pictures/07-tired.csv" --quantity min_v
notice "At rest all five show the same voltage; only under load do they part." \
  "The loss goes with one over the health: from 100 to 80 % little happens, from 40 to 20 % the amplifier falls over its cut-out." \
  "No cable helps here. Measure at the battery's own posts under load before anything is bought."
