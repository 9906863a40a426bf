#!/bin/sh
# Lesson 10: crest factor, and why a sine is the cruellest song.
. "$(dirname "$0")/lesson.sh"
title "10. Crest factor, and why a sine is the cruellest song"
say "Crest factor is how far the peaks stand above the mean. Music of 12 dB plays an eighth of the amplifier's power on \
average, a steady sine (3 dB) all of it, at the same peaks. With a thick feed, to take the cable out of the picture:"
keep 10-crest.csv vary "$lessons/car.ini" "$lessons/idle.csv" --set "cable feed.size = 1/0 AWG" "programme music.crest factor = 3.01 dB, 6 dB, 9 dB, 12 dB, 15 dB"
draw 10-mean-current.svg "$pictures/10-crest.csv" --quantity mean_a
draw 10-surplus.svg "$pictures/10-crest.csv" --quantity surplus_a
notice "From 6 dB up, each 3 dB more halves the mean current, while the peaks stay the same within an eighth. The steady sine draws more \
than twice as much as 6 dB, since it pulls the voltage down and the amplifier then draws more." \
  "Only the sine leaves the alternator short: below zero the battery pays. At 6 dB it just breaks even." \
  "A sine test shows the worst the wiring must bear. Nobody listens to it; size the alternator by the music."
