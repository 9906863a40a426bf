#!/bin/sh
# Lesson 7: a tired battery.
. "$(dirname "$0")/lesson.sh"
title "7. A tired battery"
say "A battery may rest at a fine 12.6 V and still be worn out: it is the voltage under load that tells. Cranking health is what \
a battery tester finds of the cold cranking current on the label:"
keep 07-tired.csv vary "$lessons/car.ini" "$lessons/engine-off.csv" "battery.cranking health = 100 %, 80 %, 60 %, 40 %, 20 %"
draw 07-tired.svg "$pictures/07-tired.csv" --quantity min_v
say "How many of the thirty seconds the amplifier is switched off by its own protection:"
draw 07-off-time.svg "$pictures/07-tired.csv" --quantity off_s
notice "At rest all five show the same voltage; only under load do they part." \
  "The loss goes with one over the health: from 100 to 80 % it is a sixth of a volt; at 20 % the amplifier cuts out, comes back, cuts \
out again, and is silent for most of the time." \
  "So its mean current is small there: that is no relief but the music that is missing. No cable helps; measure at the battery's own \
posts under load before anything is bought."
