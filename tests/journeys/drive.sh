#!/bin/sh
# From a speed trace to a load profile, and a run through it; and every shipped profile is understood.
. tests/journeys/support/expect.sh

for profile in profiles/*.csv; do
  case $profile in
    profiles/cycle-*)
      run 0 drive "$profile"
      out "time_s,engine_rpm,note_kmh" ;;
    profiles/base-loads.csv | profiles/catalogue.csv) ;;
    *) run 0 check examples/reference/ten-line.ini "$profile" ;;
  esac
done
run 0 drive profiles/cycle-wltc3b.csv
out "23.266 km in 1800 s, 46.5 km/h"
run 0 drive --cycle nedc
out "11.013 km in 1180 s"

# half a minute: off, driving at 10 km/h in first gear, off again
printf 'time,mph\n0,0\n10,0\n11,6.2137119\n20,6.2137119\n21,0\n30,0\n' >"$work/trip.csv"
run 0 drive "$work/trip.csv" --stop-start 2s --idle 700 -o "$work/profile.csv"
[ ! -s "$work/out" ] || complain "the profile went to standard output"
grep -v '^#' "$work/profile.csv" | cut -d, -f1,2 | tr '\n' ' ' >"$work/out"
out "time_s,engine_rpm 0,700 2,0 9,700 10,700 11,1240 20,1240 21,700 23,0 30,0 "
# the same through a pipe
"$tailvolt" drive - --stop-start 2s --idle 700 <"$work/trip.csv" | grep -v '^#' >"$work/piped.csv"
grep -v '^#' "$work/profile.csv" | cmp - "$work/piped.csv" || complain "a pipe gives another profile"
run 0 simulate --spread 0 examples/reference/ten-line.ini "$work/profile.csv" --format json
out '"duration_s": 30'

# faults: exit code 2, the file untouched
cp "$work/profile.csv" "$work/kept.csv"
printf 'time_s,speed_kmh\n0,0\n1,fast\n1,-2\n' >"$work/bad.csv"
run 2 drive "$work/bad.csv" -o "$work/profile.csv"
err "bad.csv:3:2: speed = fast: not a number"
err "bad.csv:4:2: speed = -2: out of range: accepted is 0 to 400 km/h"
cmp "$work/profile.csv" "$work/kept.csv" || complain "$asked: the file was touched"
run 2 drive
err "give a speed trace, or --cycle"
run 2 drive --cycle nedc profiles/cycle-nedc.csv
run 2 drive --cycle nedc --factors 40,50
err "falling numbers"
run 2 simulate examples/reference/ten-line.ini profiles/cycle-nedc.csv
err "tailvolt drive turns a trace of road speed into a load profile"
run 4 drive --cycle nedc -o "$work/no/such/folder.csv"

finish
