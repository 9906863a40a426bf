#!/bin/sh
# Lesson 9: clad aluminium against copper.
. "$(dirname "$0")/lesson.sh"
title "9. Clad aluminium against copper"
say "Copper-clad aluminium looks like copper, weighs a third and conducts about two thirds as well. The same sizes in both:"
keep 09-clad.csv vary "$lessons/car.ini" "$lessons/idle.csv" "cable feed.size = 8 AWG, 4 AWG, 2 AWG, 1/0 AWG" "cable feed.material = copper, clad aluminium"
draw 09-clad.svg "$pictures/09-clad.csv" --along size
notice "At every size the clad cable sags more." \
  "Clad aluminium one trade size up (2 AWG for 4 AWG) equals the copper; that is what a fair offer looks like." \
  "The thinner the cable, the wider the gap: with thick cable the rest of the loop hides the difference."
