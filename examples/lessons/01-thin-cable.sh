#!/bin/sh
# Lesson 1: why thin cable sags.
. "$(dirname "$0")/lesson.sh"
title "1. Why thin cable sags"
say "A cable is a resistance: what it keeps for itself is current times resistance, and the amplifier never sees it. First a \
steady 60 A through 5 m of 8 AWG, then through 10 m:"
for length in 5 10; do
  try simulate "$lessons/car.ini" "$lessons/steady.csv" --set "cable feed.length = $length m" -f json -o "$pictures/01-$length-m.json"
  parts "$pictures/01-$length-m.json" feed main "feed at battery" "feed at amplifier"
done
say "Now music, which asks for more than a hundred amperes in each beat, and five sizes of the feed:"
keep 01-thin-cable.csv vary "$lessons/car.ini" "$lessons/idle.csv" "cable feed.size = 8 AWG, 4 AWG, 2 AWG, 1/0 AWG, 4/0 AWG"
draw 01-thin-cable.svg "$pictures/01-thin-cable.csv"
say "And what the whole feed side keeps: the cable with its fuse and its joints:"
draw 01-feed-drop.svg "$pictures/01-thin-cable.csv" --quantity feed_drop_v
notice "Twice the length doubles what the cable keeps, to the millivolt. Fuse and joints keep what they kept." \
  "From 8 AWG to 4 AWG is the greatest gain; each further step gains less, down to what fuse and joints keep: no cable cures them." \
  "The mean current hardly changes. It is the beat that makes the cable sag, not the average."
