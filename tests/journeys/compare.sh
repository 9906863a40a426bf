#!/bin/sh
# A log beside its simulation: text, JSON, CSV, the picture; a log with faults.
. tests/journeys/support/expect.sh

car=examples/reference/ten-line.ini
{
  echo "# a minute at idle, lights on; the meter was read now and then"
  echo "time_s,engine_rpm,voltage_v:battery post,current_a:alternator"
  for second in 0 1 2 3 4 5 6 7 8 9 10; do echo "$second,800,13.6,"; done
  echo "30,800,13.55,40"
  echo "60,800,,41"
} >"$work/log.csv"

run 0 compare "$car" "$work/log.csv"; silent_err
out "voltage_v:battery post"; out "current_a:alternator"; out "music off"; out "FARTHEST APART"
[ "$(head -c 5 "$work/out")" = APART ] || complain "the first line does not say how far apart"
awk 'length > 80 { exit 1 }' "$work/out" || complain "a line is longer than 80 characters"
run 0 compare "$car" "$work/log.csv" --from 5s --to 40s --format json; out '"readings": 7'
# the figures belong together: rms squared is bias squared and spread squared
awk -F'[:,]' '/"bias"/ { b = $2 } /"rms"/ { r = $2 } /"spread"/ { s = $2; d = r * r - b * b - s * s; n++; if (r <= 0 || d * d > 1e-12) bad = 1 }
  END { exit bad || n == 0 }' "$work/out" || complain "bias, rms and spread do not go together"
if command -v jq >/dev/null 2>&1; then
  [ "$(jq '.logs[0].columns[0].readings' "$work/out")" = 7 ] || complain "$asked: not seven readings"
fi
run 0 compare "$car" "$work/log.csv" --set "battery.state of charge = 60 %" -o "$work/compared.csv"; silent_out
[ "$(head -1 "$work/compared.csv")" = "time_s,measured:voltage_v:battery post,simulated:voltage_v:battery post,measured:current_a:alternator,simulated:current_a:alternator,log" ] ||
  complain "the CSV's header is $(head -1 "$work/compared.csv")"
[ "$(wc -l <"$work/compared.csv")" -eq 14 ] || complain "the CSV has not a row a reading"
run 0 plot "$work/compared.csv" --script "$work/compared.gp"
grep -q "Voltage of battery post: simulated" "$work/compared.gp" || complain "the picture does not say how far apart"
run 0 plot "$work/compared.csv" --quantity current_a:alternator --script "$work/current.gp"
grep -q "Current of alternator" "$work/current.gp" || complain "--quantity does not choose the column"
run 2 plot "$work/compared.csv" --quantity current_a:bass; err "has no column measured:current_a:bass"
run 2 plot "$work/compared.csv" -p voltage; err "is drawn from a record"

run 2 compare "$car" "$work/log.csv" -o "$work/picture.svg"; err "draws it"

# two logs at once, one with a prescribed current
printf 'time_s,engine_rpm,supply_a:bass,voltage_v:bass\n0,800,0,13.5\n10,800,40,12.9\n20,800,40,12.9\n' >"$work/second.csv"
run 0 compare "$car" "$work/log.csv" "$work/second.csv"; out "in 2 logs"; out "second.csv"

# where a computer moves the set point no joint explains what a log does not say of it
out "\`tailvolt match\` finds the values"
run 0 compare "$car" "$work/second.csv" --set "vehicle.charging = computer" --set "alternator.set point = 12.4 V .. 14.8 V"
out "NEXT    add a column set_point_v"
! grep -q "tailvolt match" "$work/out" || complain "match is offered for what no part explains"
awk 'length > 80 { exit 1 }' "$work/out" || complain "a line is longer than 80 characters"
printf 'time_s,engine_rpm,set_point_v,voltage_v:bass\n0,800,14.4,13.5\n20,800,14.4,13.4\n' >"$work/commanded.csv"
run 0 compare "$car" "$work/commanded.csv" --set "vehicle.charging = computer" --set "alternator.set point = 12.4 V .. 14.8 V"
out "\`tailvolt match\` finds the values"
printf 'time_s,engine_rpm,voltage_v:bass\n0,0,12.5\n20,0,12.4\n' >"$work/off.csv"
run 0 compare "$car" "$work/off.csv" --set "vehicle.charging = computer" --set "alternator.set point = 12.4 V .. 14.8 V"
out "\`tailvolt match\` finds the values"

# wrong input
run 2 compare "$car"; err "compare needs SYSTEM LOG.csv"
run 2 compare "$car" "$work/log.csv" --from 5s --to 2s; err "--to must be later than --from"
run 2 compare "$car" "$work/log.csv" -o "$work/log.csv"; err "is an input of this command"
sed 's/battery post/batery post/' "$work/log.csv" >"$work/wrong.csv"
run 2 compare "$car" "$work/wrong.csv"; err "wrong.csv:2:3: voltage_v:batery post: no such point or part"; messages_are_named
run 2 compare "$car" "$work/absent.csv"; err "cannot be read"
cut -d, -f1,3 "$work/log.csv" >"$work/bare.csv"
run 2 compare "$car" "$work/bare.csv"; err "does not say what the car did"
printf 'time_s,engine_rpm,programme\n0,800,silence\n60,800,silence\n' >"$work/drive.csv"
run 0 compare "$car" "$work/bare.csv" --profile "$work/drive.csv"; out "voltage_v:battery post"
run 2 compare "$car" "$work/bare.csv" --profile "$work/drive.csv" -o "$work/drive.csv"; err "is an input of this command"
run 2 simulate "$car" "$work/log.csv"; err "a measured column"
# a log of years is one run: a signal is heard within it, between two readings
printf 'time_s,engine_rpm,voltage_v:battery post\n0,800,13.6\n1000000000,800,13.5\n' >"$work/years.csv"
stopped compare "$car" "$work/years.csv"; err "stopped"; silent_out
err "years.csv: 11574 days of log in steps of 1 ms: a run through it takes about"

finish
