#!/bin/sh
# Lesson 2: length against thickness.
. "$(dirname "$0")/lesson.sh"
title "2. Length against thickness"
say "A cable twice as long has twice the resistance; one with twice the copper has half. The battery's place decides the length, \
so the size has to follow:"
keep 02-length.csv vary "$lessons/car.ini" "$lessons/idle.csv" "cable feed.size = 8 AWG, 4 AWG, 1/0 AWG" "cable feed.length = 1 m .. 7 m step 1 m"
draw 02-length.svg "$pictures/02-length.csv"
draw 02-fields.svg "$pictures/02-length.csv" -p heat
notice "The lines are nearly straight: each metre costs the same." \
  "A long thick cable equals a short thin one: 5 m of 4 AWG do as well as 2 m of 8 AWG." \
  "All lines meet near zero length, where only the rest of the loop is left."
