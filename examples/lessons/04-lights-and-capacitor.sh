#!/bin/sh
# Lesson 4: why the lights dim with the beat, and what a capacitor can and cannot do.
. "$(dirname "$0")/lesson.sh"
title "4. Why the lights dim with the beat; what a capacitor can and cannot do"
say "On a rainy night lights, wipers and blower leave the alternator nothing to spare at idle. Each beat then comes out of the \
battery, and every lamp sees the battery's voltage fall. A capacitor at the amplifier supplies part of the beat. Next to \
no capacitor, then 0.5 F to 20 F:"
keep 04-capacitor.csv vary "$lessons/car.ini" "$lessons/idle.csv" --set "load lights and blower.power = 800 W" --set "capacitor stiffener.esr = 2 mohm" \
  "capacitor stiffener.capacitance = 0.001 F, 0.5 F, 1 F, 5 F, 20 F"
say "At the amplifier:"
draw 04-amplifier.svg "$pictures/04-capacitor.csv"
say "At the amplifier again, without the ripple of the bass note (its mean over each whole period):"
draw 04-beat.svg "$pictures/04-capacitor.csv" --quantity min_without_ripple_v
say "At the lights, which see the battery's posts:"
draw 04-lights.svg "$pictures/04-capacitor.csv" --quantity battery:min_v
notice "Two things make the lowest voltage: the beat, and in it the bass note, which pulls twice in each of its periods. Most of \
what 1 F gains at the amplifier is that ripple; of the beat itself it fills the smaller part." \
  "At the lights it gains far less: the battery is near them and the capacitor sits behind the long cable." \
  "The mean voltage and the battery's charge stay nearly as they are. A capacitor lends for a moment; it makes no current."
