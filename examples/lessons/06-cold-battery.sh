#!/bin/sh
# Lesson 6: a cold battery.
. "$(dirname "$0")/lesson.sh"
title "6. A cold battery"
say "With the engine off the battery supplies everything. Cold acid reacts slowly: internal resistance rises. The same half \
minute of music from a summer evening to a hard frost:"
keep 06-cold.csv vary "$lessons/car.ini" "$lessons/engine-off.csv" "vehicle.ambient = 25 C, 10 C, 0 C, -10 C, -20 C"
draw 06-cold.svg "$pictures/06-cold.csv" --quantity battery_drop_v
notice "The battery's own drop grows with the cold." \
  "The copper works the other way: cold cable has less resistance, so part of the loss is made up." \
  "The amplifier is regulated: at a lower voltage it draws more current, which makes the sag worse still."
