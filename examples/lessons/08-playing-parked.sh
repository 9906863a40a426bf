#!/bin/sh
# Lesson 8: playing parked.
. "$(dirname "$0")/lesson.sh"
title "8. Playing parked"
say "How long can the music play with the engine off and the car still start? One car has one answer; cars of this kind have \
a spread: battery age, charge, temperature, and above all how loud it is played."
try parked "$lessons/car.ini" --set "cable feed.size = 1/0 AWG"
say "Twenty such cars, each a little different:"
try parked "$lessons/car.ini" --set "cable feed.size = 1/0 AWG" --spread 20 --seed 1 -f json -o "$pictures/08-parked.json"
draw 08-parked.svg "$pictures/08-parked.json" -p playing
say "The same, 6 dB quieter:"
try parked "$lessons/car.ini" --set "cable feed.size = 1/0 AWG" --level -6dB --spread 20 --seed 1 -f json -o "$pictures/08-quieter.json"
draw 08-quieter.svg "$pictures/08-quieter.json" -p playing
say "The charge over both evenings:"
draw 08-evenings.svg "$pictures/08-parked.json" "$pictures/08-quieter.json"
notice "The limit comes long before the battery is flat: half of its charge, a cut-out, or a start that no longer works." \
  "The spread is nearly as wide as the answer itself. Promise the lower end, never the middle." \
  "6 dB quieter is a quarter of the power: it plays more than three times as long."
