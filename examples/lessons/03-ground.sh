#!/bin/sh
# Lesson 3: the ground is half the circuit.
. "$(dirname "$0")/lesson.sh"
title "3. The ground is half the circuit"
say "What goes out through the feed comes back through the ground lead, the stud and the body. A stud on paint or rust has \
a few thousandths of an ohm more. This car has a good feed, 4 AWG:"
keep 03-ground.csv vary "$lessons/car.ini" "$lessons/idle.csv" --set "cable feed.size = 4 AWG" \
  "joint body stud.resistance = 0.3 mohm, 2 mohm, 5 mohm, 10 mohm"
draw 03-ground.svg "$pictures/03-ground.csv"
try simulate "$lessons/car.ini" "$lessons/idle.csv" --set "cable feed.size = 4 AWG" --set "joint body stud.resistance = 10 mohm" \
  -f json -o "$pictures/03-ground.json"
draw 03-loop.svg "$pictures/03-ground.json" -p loop
notice "The feed is as it was, and yet the amplifier loses a volt: the stud is now the worst place of the whole loop." \
  "The current is the same in every part of the loop; so a milliohm costs the same wherever it sits." \
  "A meter between amplifier minus and the battery's negative post shows it; a meter on the plus side never will."
