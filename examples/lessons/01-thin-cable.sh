#!/bin/sh
# Lesson 1: why thin cable sags.
. "$(dirname "$0")/lesson.sh"
title "1. Why thin cable sags"
say "A cable is a resistance. The amplifier asks for a hundred amperes in each beat; what the cable keeps is current times \
resistance, and the amplifier never sees it. The same car, the same music, five sizes of the feed:"
keep 01-thin-cable.csv vary car.ini idle.csv "cable feed.size = 8 AWG, 4 AWG, 2 AWG, 1/0 AWG, 4/0 AWG"
draw 01-thin-cable.svg "$pictures/01-thin-cable.csv"
say "And what the feed alone keeps for itself:"
draw 01-feed-drop.svg "$pictures/01-thin-cable.csv" --quantity feed_drop_v
notice "From 8 AWG to 4 AWG is the greatest gain; each further step wins less than the one before." \
  "The curve flattens out below the rest voltage: fuse, joints, ground and battery are still in the loop, and no feed cures them." \
  "The mean current hardly changes. It is the beat that makes the cable sag, not the average."
