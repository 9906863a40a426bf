#!/bin/sh
# Values fitted to a log: text, JSON, CSV and the picture, the file that is written, keys that cannot be told; wrong input.
. tests/journeys/support/expect.sh

car=examples/as-measured/system.ini
log=examples/as-measured/log.csv
keys="alternator.set point, vehicle.base load, joint body stud.resistance, fuse main.resistance"

# the log was made with 14.42 V, 24 A, 2.6 and 1.1 mohm: each must lie in its interval
run 0 match "$car" "$log" --fit "$keys" --format json; silent_err
if command -v jq >/dev/null 2>&1; then
  [ "$(jq -r '[.keys[].state] | unique | .[]' "$work/out")" = fitted ] || complain "$asked: not all were fitted"
  number() { jq -r ".keys[$1].$2" "$work/out" | awk '{ print $1 * ($2 == "uohm" ? 0.001 : 1) }'; }
  k=0
  for truth in 14.42 24 2.6 1.1; do
    awk -v low="$(number $k low)" -v high="$(number $k high)" -v truth=$truth 'BEGIN { exit !(low <= truth && truth <= high) }' ||
      complain "$asked: $truth is not in $(number $k low) .. $(number $k high)"
    k=$((k + 1))
  done
fi
run 0 match "$car" "$log" --fit "$keys"; out "4 of 4 keys"; out "1 stands far out and is left out"; out "rms before"
[ "$(head -c 6 "$work/out")" = FITTED ] || complain "the first line does not say how near it came"
awk 'length > 100 { exit 1 }' "$work/out" || complain "a line is longer than 100 characters"

# the same bits whatever the number of threads
cp "$work/out" "$work/usual"
run 0 match "$car" "$log" --fit "$keys" --threads 1; cmp -s "$work/out" "$work/usual" || complain "threads change the result"

# what is written is read again and needs no more fitting
run 0 match "$car" "$log" --fit "$keys" --write "$work/new.ini" --date 2026-01-31
grep -q "set point = 14.4.* V measured  # 2026-01-31: fitted to logs, +- .* (one standard error); was 14.2 V, assumed" "$work/new.ini" ||
  complain "the written file does not say what was measured, and when: $(grep 'set point' "$work/new.ini")"
grep -q "^# The shadow players" "$work/new.ini" || complain "the written file has lost its comment"
run 0 compare "$work/new.ini" "$log" --format json
if command -v jq >/dev/null 2>&1; then
  jq -e '.logs[0].columns[1].rms < 0.02 and .logs[0].columns[2].rms < 0.005' "$work/out" >/dev/null || complain "what was written does not fit the log"
fi
run 0 match "$car" "$log" --fit "alternator.set point" -o "$work/matched.csv"
head -1 "$work/matched.csv" | grep -q "measured:voltage_v:battery post,before:voltage_v:battery post,simulated:voltage_v:battery post" ||
  complain "the CSV has not before and after"
run 0 plot "$work/matched.csv" --script "$work/matched.gp"; grep -q "rms from measured.* before" "$work/matched.gp" || complain "no picture of before and after"

# keys that these columns cannot tell: named, with the reading that would
run 0 match "$car" "$log" --fit "joint body stud.resistance, joint body shell.resistance"
out "ALIKE   joint body stud.resistance and joint body shell.resistance"; out "cannot be told apart"; out "measure: voltage_v:body"
run 0 match "$car" "$log" --fit "alternator.set point, amplifier bass.rated power"
out "UNSEEN  amplifier bass.rated power leaves no trace"; out "1 of 2 keys"

# wrong input
run 2 match "$car" "$log"; err "match needs --fit"
run 2 match "$car" "$log" --fit "alternator.set pont"; err "did you mean 'set point'?"; messages_are_named
run 2 match "$car" "$log" --fit "a.b, a.b, a.b, a.b, a.b, a.b, a.b, a.b, a.b"; err "at most 8 keys"
run 2 match "$car" "$log" --fit "alternator.set point, alternator.set point"; err "stands twice"
run 2 match "$car" "$log" --fit "cable feed.size"; err "is not one number with a unit"
run 2 match "$car" "$log" --fit "alternator.set point" --write "$car"; err "is an input of this command"
run 2 match "$car" "$log" --fit "alternator.set point" --from 10h; err "no reading"
finish
