#!/bin/sh
# Lesson 10: crest factor, and why a sine is the cruellest song.
. "$(dirname "$0")/lesson.sh"
title "10. Crest factor, and why a sine is the cruellest song"
say "Crest factor is how far the peaks stand above the mean. Music of 12 dB plays an eighth of the amplifier's power on the \
average, a steady sine (3 dB) all of it, at the same peaks. With a thick feed, so that the cable is out of the way:"
keep 10-crest.csv vary car.ini idle.csv --set "cable feed.size = 1/0 AWG" "programme music.crest factor = 3.01 dB, 6 dB, 9 dB, 12 dB, 15 dB"
draw 10-mean-current.svg "$pictures/10-crest.csv" --quantity mean_a
draw 10-surplus.svg "$pictures/10-crest.csv" --quantity surplus_a
notice "The peaks ask for nearly the same; the mean current falls by half for each 3 dB of crest factor." \
  "Only the sine leaves the alternator short: below zero the battery pays." \
  "A test with a sine says what the wiring bears at worst. Nobody listens to it; size the alternator by the music."
