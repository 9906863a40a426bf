#!/bin/sh
# Lesson 7: a tired battery.
. "$(dirname "$0")/lesson.sh"
title "7. A tired battery"
say "A battery may rest at a fine 12.6 V and still be worn out: the voltage under load tells. Cranking health is the share \
of the label's cold cranking current that a battery tester finds:"
keep 07-tired.csv vary "$lessons/car.ini" "$lessons/engine-off.csv" "battery.cranking health = 100 %, 80 %, 60 %, 40 %, 20 %"
draw 07-tired.svg "$pictures/07-tired.csv" --quantity min_v
say "How many of the thirty seconds the amplifier is switched off by its own protection:"
draw 07-off-time.svg "$pictures/07-tired.csv" --quantity off_s
notice "At rest all five show the same voltage; they differ only under load." \
  "The loss goes as one over the health: from 100 to 80 % it is a sixth of a volt; at 20 % the amplifier cuts out, comes back, cuts \
out again, and is silent for most of the time." \
  "So its mean current is small there: no relief, just missing music. No cable helps; measure at the battery's own \
posts under load before you buy anything."
