#!/bin/sh
# Lesson 5: idle against 2000 rpm.
. "$(dirname "$0")/lesson.sh"
title "5. Idle against 2000 rpm"
say "An alternator is sold by its output at 6000 rpm of its own rotor. At idle the rotor turns at about 2000 rpm. Thirty seconds \
of music at idle, then thirty at 2000 rpm of the engine, on a rainy night:"
try simulate "$lessons/car.ini" "$lessons/idle-and-2000.csv" --set "load lights and blower.power = 800 W" --record "$pictures/05-record.csv" \
  --record-every 10ms -f json -o "$pictures/05-result.json"
draw 05-voltage.svg "$pictures/05-record.csv"
draw 05-currents.svg "$pictures/05-record.csv" -p currents
draw 05-alternator.svg "$lessons/car.ini" "$pictures/05-record.csv"
rm -f "$pictures/05-record.csv"
notice "At idle the alternator gives all it has and the battery adds the beat; at 2000 rpm there is current to spare." \
  "The curve is steep right around idle: a few hundred rpm more gain tens of amperes." \
  "Even at 2000 rpm the beats still dig holes: that part of the sag belongs to the cable, not to the alternator."
