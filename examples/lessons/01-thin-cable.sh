#!/bin/sh
# Lesson 1: why thin cable sags.
. "$(dirname "$0")/lesson.sh"
title "1. Why thin cable sags"
say "A cable is a resistance: it drops current times resistance, and the amplifier never sees those volts. First a \
steady 60 A through 5 m of 8 AWG, then through 10 m:"
for length in 5 10; do
  try simulate "$lessons/car.ini" "$lessons/steady.csv" --set "cable feed.length = $length m" -f json -o "$pictures/01-$length-m.json"
  parts "$pictures/01-$length-m.json" feed main "feed at battery" "feed at amplifier"
done
say "Now music, which draws more than a hundred amperes on each beat, and five sizes of feed:"
keep 01-thin-cable.csv vary "$lessons/car.ini" "$lessons/idle.csv" "cable feed.size = 8 AWG, 4 AWG, 2 AWG, 1/0 AWG, 4/0 AWG"
draw 01-thin-cable.svg "$pictures/01-thin-cable.csv"
say "And the drop of the whole feed side: the cable with its fuse and joints:"
draw 01-feed-drop.svg "$pictures/01-thin-cable.csv" --quantity feed_drop_v
notice "Twice the length doubles the cable's drop, to the millivolt. Fuse and joints drop the same as before." \
  "From 8 AWG to 4 AWG is the greatest gain; each further step gains less, down to the drop of fuse and joints: no cable cures that." \
  "The mean current hardly changes. It is the beat that makes the cable sag, not the average."
