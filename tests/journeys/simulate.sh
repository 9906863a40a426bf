#!/bin/sh
# A run from files to reports, in every format, and the exit codes that go with it.
. tests/journeys/support/expect.sh
unset NO_COLOR LC_ALL LC_CTYPE LANG

# the two lines of a label in one
unfold() { awk '/^        [^ ]/ { printf " %s", substr($0, 9); next } NR > 1 { print "" } { printf "%s", $0 } END { print "" }' "$1"; }

van=examples/van-800w-8awg
hatchback=examples/hatchback-300w
short=$work/short.csv
printf 'time_s,engine_rpm,programme\n0,800,drums\n10,800,drums\n' >"$short"

run 0 simulate $van/system.ini "$short"; silent_err
out "WHY     "; out "CHARGE  "; out "SAFETY  "; out "NEXT    "; out "MEASURE AT THE CAR"; out "--set"
head -1 "$work/out" | grep -q '^FAILS ' || complain "the thin feed is not called a failure: $(head -1 "$work/out")"
awk 'length > 80 { exit 1 }' "$work/out" || complain "a line is wider than 80 columns"
lines=$(sed '/^MADE BY/,$d' "$work/out" | wc -l)
[ "$lines" -le 44 ] || complain "the report takes more than a screen and a half, without what it was made from: $lines lines"
if grep -q "programme \|polarization\|ideal\| uV" "$work/out"; then complain "words of the model in a report for the trade"; fi
if LC_ALL=C grep -q '[^ -~]' "$work/out"; then complain "bytes beyond ASCII without a UTF-8 locale"; fi
out "SURE    "
# the rest under --details
run 0 simulate --spread 0 $van/system.ini "$short" --details; out "BUDGET by hand"; out "ENERGY"; out '--set "'; out "WHEN FITTING"
awk 'length > 100 { exit 1 }' "$work/out" || complain "a line of the details is wider than 100 columns"
# the user's own names keep their letters in any locale
run 0 check $van/system.ini --set "vehicle.name = Bühne"; out "Bühne"
run 0 simulate --spread 0 $van/system.ini "$short"; cp "$work/out" "$work/plain"
run 0 simulate --spread 0 --quiet $van/system.ini "$short"; cmp -s "$work/out" "$work/plain" || complain "two runs differ"
run 0 simulate --spread 0 --color always $van/system.ini "$short"
sed "s/$(printf '\033')\\[[0-9]*m//g" "$work/out" | cmp -s - "$work/plain" || complain "colour changes the text"
NO_COLOR=1; export NO_COLOR
run 0 simulate --spread 0 --color=always $van/system.ini "$short"; out "$(printf '\033')[31mFAILS"
unset NO_COLOR
run 0 simulate --spread 0 --units us --details $van/system.ini "$short"; out "degrees F"; out "18.0 ft"

# one JSON document, also where a target is missed; a failure only under --strict
run 0 simulate --spread 0 $van/system.ini "$short" --format json; out '"status": "fails"'
run 1 simulate --spread 0 $van/system.ini "$short" --format json --strict; out '"status": "fails"'
if command -v python3 >/dev/null 2>&1; then
  python3 -c 'import json,sys; json.load(open(sys.argv[1]))' "$work/out" || complain "not one JSON document"
fi
run 0 simulate --spread 0 $hatchback/system.ini $hatchback/profile.csv --strict; silent_err
head -1 "$work/out" | grep -q '^HOLDS ' || complain "the hatchback does not hold: $(head -1 "$work/out")"
run 0 simulate --spread 0 $van/system.ini "$short" -f csv
[ "$(wc -l <"$work/out")" -eq 2 ] || complain "CSV has not a header and one row"

# no profile: two runs; several: as many
run 0 simulate --spread 0 examples/reference/ten-line.ini; out "ALSO "; out "idle at night in the rain"; out "on the road"
run 0 simulate --spread 0 examples/reference/ten-line.ini -f json; out '"runs": ['
[ "$(grep -c '"state_hash"' "$work/out")" -eq 2 ] || complain "not two runs"
run 0 simulate --spread 0 $van/system.ini "$short" "$short" -f csv
[ "$(wc -l <"$work/out")" -eq 3 ] || complain "two profiles do not give two rows"

# a rest voltage of the first instant is reported as such; settled, nothing is given back
run 0 simulate --spread 0 examples/van-put-right/system.ini examples/van-put-right/profile.csv --settle 0s
unfold "$work/out" | grep -q '^WHY .*; battery gives 0\.[0-9]* V back; sag 0\.[0-9]* V' || complain "WHY: $(sed -n 2,5p "$work/out")"
out "still rising"
run 0 simulate --spread 0 $hatchback/system.ini $hatchback/profile.csv
if grep -q "first instant\|gives .* back" "$work/out"; then complain "a settled start is called unsettled"; fi
run 0 simulate --spread 0 $van/system.ini "$short" --set "programme drums.crest factor = 2 dB"; out "its crest factor of 2.00 dB is below"

# fuses of one post are listed together; the assumed value on which the verdict hangs is named, and turns it
printf 'time_s,engine_rpm\n0,800\n10,800\n' >"$work/idle.csv"
run 0 simulate --spread 0 examples/second-battery/relay.ini "$work/idle.csv"
unfold "$work/out" | grep -q '^SAFETY  fit 100 A within 30 cm of the battery and 2 x 100 A within 30 cm of battery second' ||
  complain "two fuses of one post: $(grep -A1 '^SAFETY' "$work/out")"
# what is right gives way to what is to be fitted; drops are read from the battery that feeds
run 0 simulate --spread 0 examples/fused-block/system.ini "$work/idle.csv" --set "fuse tops.rating = 40 A" --set "vehicle.base load = 20 A"
unfold "$work/out" | grep -q '^SAFETY  fuse bass 60 A protects its cable (at most 60 A); fit 125 A within 30 cm of the battery' ||
  complain "fuses that are right and one that is missing: $(grep -A1 '^SAFETY' "$work/out")"
run 0 simulate --spread 0 examples/van-second-lithium/system.ini "$work/idle.csv"; out "  battery stage post to bass plus: "; out "bass minus to battery stage minus:"
cp examples/reference/ten-line.ini "$work/hangs.ini"
turn() { # settings: the verdict, the value on which it hangs and where it turns, of the detailed report
  run 0 simulate --details "$work/hangs.ini" "$work/idle.csv" --set "cable feed.size = 4 AWG" \
    --set "programme music.crest factor = 10 dB" "$@"
}
turn
first=$(head -1 "$work/out" | cut -d' ' -f1)
value=$(sed -n '/^  one value: /,/^  [0-9]/p' "$work/out" | tr '\n' ' ' | tr -s ' ')
hangs=$(echo "$value" | sed -n 's/.* \(holds from\|holds up to\|no longer at\) \([0-9.]*\) .*/\2/p')
key=$(echo "$value" | sed -n 's/.* assumed for lights .*/vehicle.base load = @ A/p; s/.* of the alternator .*/alternator.low current = @ A/p
  s/.* of charge .*/battery.state of charge = @ %/p; s/.* of its capacity .*/battery.health = @ %/p; s/.* body shell.*/joint body shell.resistance = @ mohm/p')
[ -n "$hangs" ] && [ -n "$key" ] || complain "no value is named on which it hangs: $value"
turn --spread 0 --set "$(echo "$key" | sed "s/@/$hangs/")"
[ "$(head -1 "$work/out" | cut -d' ' -f1)" != "$first" ] || complain "with $key, $hangs, it is $first as before"

# how sure: two lines in this form, the same for any number of threads, none where it is not asked for
sure() { sed -n '/^SURE/,/^NEXT/p' "$work/out" | sed '$d'; }
run 0 simulate "$work/hangs.ini" "$work/idle.csv"
sure | sed -n 1p | grep -qE '^SURE    [0-9]+ (to [0-9]+ )?of 100 such cars hold with this music \(lowest [0-9.]+ to [0-9.]+ V\)$' || complain "SURE: $(sure)"
sure | sed -n 2p | grep -qE '^        measure first: [a-z]' || complain "no line of what to measure first: $(sure)"
[ "$(sure | wc -l)" -le 2 ] || complain "SURE takes more than two lines: $(sure)"
run 0 simulate "$work/hangs.ini" "$work/idle.csv" --spread 20 -f json
out '"vehicles": 20'; out '"holds_pct"'; out '"holds_low_pct"'; out '"holds_high_pct"'; out '"p10"'; out '"measure_first"'; out '"share_pct"'; out '"error_pct"'
cp "$work/out" "$work/twenty"
run 0 simulate "$work/hangs.ini" "$work/idle.csv" --spread 20 -f json
cmp -s "$work/twenty" "$work/out" || complain "twenty cars are not the same twice"
run 0 simulate "$work/hangs.ini" "$work/idle.csv" --spread 20 --spread-seed 2 -f json
cmp -s "$work/twenty" "$work/out" && complain "another seed draws the same cars"
run 0 simulate "$work/hangs.ini" "$work/idle.csv" --spread 0 -f json; out '"certainty": null'
run 0 simulate "$work/hangs.ini" "$work/idle.csv" --spread 0; grep -q '^SURE' "$work/out" && complain "SURE with --spread 0"
run 2 simulate "$work/hangs.ini" "$work/idle.csv" --spread few; err "whole number"

# a long name gives way before a figure does
long="the long and winding feed from the battery to the boot of it"
sed "s/amplifier feed\]/$long]/" $van/system.ini >"$work/long.ini"
run 0 simulate --spread 0 "$work/long.ini" "$short"
unfold "$work/out" | grep -q '^NEXT .* V for all but 1 % of the time: ' || complain "NEXT is cut: $(grep -A1 '^NEXT' "$work/out")"
unfold "$work/out" | grep -q '^WHY .* V sag' || complain "WHY is cut: $(grep -A1 '^WHY' "$work/out")"
awk '{ gsub(/[^ -~]+/, "x") } length > 80 { exit 1 }' "$work/out" || complain "a line is wider than 80 columns"

# a parked profile says which question it answers, and gives the parked study's answer to the other one
printf 'time_s,engine_rpm\n0,0\n20,0\n' >"$work/off.csv"
run 0 simulate --spread 0 $hatchback/system.ini "$work/off.csv"
unfold "$work/out" | grep -q '^PARKED .*not whether the car still starts.*no start after [0-9.]* h; plays [0-9.]* h' ||
  complain "PARKED: $(grep -A1 '^PARKED' "$work/out")"
parked=$(unfold "$work/out" | sed -n 's/^PARKED *//p')
run 0 report --quick --date x $hatchback/system.ini "$work/off.csv"
out "<dd>$parked</dd>"
run 0 simulate --spread 0 $hatchback/system.ini $hatchback/profile.csv
if grep -q '^PARKED' "$work/out"; then complain "a profile with the engine on is called parked"; fi

# overrides
run 0 simulate --spread 0 $van/system.ini "$short" --set "cable amplifier feed.size = 35 mm2" -f csv; cp "$work/out" "$work/thick"
run 0 simulate --spread 0 $van/system.ini "$short" -f csv
if cmp -s "$work/out" "$work/thick"; then complain "--set changes nothing"; fi
run 2 simulate $van/system.ini "$short" --set "cable amplifier fed.size = 35 mm2"; err "--set"; silent_out
run 0 simulate --spread 0 $van/system.ini "$short" --seed 7 -f json; cp "$work/out" "$work/seven"
run 0 simulate --spread 0 $van/system.ini "$short" --seed 7 -f json; cmp -s "$work/out" "$work/seven" || complain "one seed, two results"

# missing files, and --output
run 2 simulate nowhere.ini "$short"; err "nowhere.ini"; silent_out; messages_are_named
run 2 simulate $van/system.ini nowhere.csv; err "nowhere.csv"; silent_out
echo kept >"$work/result"
run 2 simulate nowhere.ini -o "$work/result"
[ "$(cat "$work/result")" = kept ] || complain "bad input touched the result file"
run 0 simulate --spread 0 $van/system.ini "$short" -o "$work/result"; silent_out
cmp -s "$work/result" "$work/plain" || complain "--output differs from standard output"
ln -s result "$work/link"
run 0 simulate --spread 0 $van/system.ini "$short" -f csv -o "$work/link"
[ -L "$work/link" ] && grep -q '^system,' "$work/result" || complain "a link was not followed"
run 4 simulate $van/system.ini "$short" -o "$work/no/such/folder"; err "cannot write"
run 4 simulate $van/system.ini "$short" -o "$work"; err "cannot write"
cp "$short" "$work/profile.csv"
run 2 simulate $van/system.ini "$work/profile.csv" -o "$work/profile.csv"; err "is an input"
cmp -s "$short" "$work/profile.csv" || complain "an input was written over"
ls "$work" | grep -q '\.part$' && complain "a temporary is left behind"

if [ -c /dev/full ]; then
  run 4 simulate $van/system.ini "$short" -o /dev/full; err "/dev/full: cannot write: No space left on device"
  code=0; "$tailvolt" simulate $van/system.ini "$short" >/dev/full 2>"$work/err" || code=$?
  [ "$code" -eq 4 ] || complain "a full device on standard output: exit code $code, wanted 4"
  [ "$(cat "$work/err")" = "tailvolt: standard output: cannot write: No space left on device" ] ||
    complain "a full device on standard output: $(cat "$work/err")"
  code=0; "$tailvolt" help >/dev/full 2>"$work/err" || code=$?
  [ "$code" -eq 4 ] || complain "help on a full device: exit code $code, wanted 4"
fi

# behind a converter a battery is judged by itself, by each line of the first screen
cat >"$work/behind.ini" <<'END'
[battery]
capacity = 70 Ah
state of charge = 80 %
[alternator]
rated current = 100 A
[battery second]
capacity = 200 Ah
kind = lithium
place = boot
[isolator]
kind = converter
output = 25 A at 14.4 V
[cable second feed]
size = 10 mm2
length = 5 m
[amplifier bass]
supply from = second
rated power = 1500 W
[cable feed]
size = 1/0 AWG
length = 0.8 m
[targets]
voltage = 11 V
END
printf 'time_s,engine_rpm\n0,800\n20,800\n20.001,2400\n40,2400\n' >"$work/behind.csv"
run 0 simulate --spread 0 "$work/behind.ini" "$work/behind.csv"
out "idle empties battery second to half in"; out "battery second loses 40 A"; out "the battery then loses 33 A"

# ... and where the computer charges, what it restores is said however full the line
cat >"$work/watched.ini" <<'END'
[vehicle]
charging = computer
[battery]
kind = AGM
capacity = 92 Ah
[alternator]
rated current = 180 A
set point = 12.2 V .. 15.0 V
[battery house]
capacity = 100 Ah
kind = lithium
place = boot
[isolator]
kind = converter
output = 40 A at 14.4 V
sense = engine
[cable house feed]
size = 25 mm2
length = 4 m
[amplifier bass]
supply from = house
rated power = 1000 W
[cable feed]
size = 25 mm2
length = 1 m
END
run 0 simulate --spread 0 "$work/watched.ini" "$work/behind.csv"
sed -n '/^CHARGE/,/^SAFETY/p' "$work/out" | tr -s ' \n' ' ' >"$work/charge"
grep -q 'battery loses [0-9.]* A, below 75 % of charge gains [0-9.]* A; battery house gains [0-9.]* A ' "$work/charge" ||
  complain "what the computer restores is left out: $(cat "$work/charge")"
# the high end is named where the volts fall short at the low end, and not where only charge does
run 0 simulate --spread 0 "$work/watched.ini" "$work/behind.csv" --set "isolator.kind = relay" --set "isolator.sense = from"
out "but idle empties battery house to half in"
! grep -q "the voltage holds" "$work/out" || complain "the high end is praised for volts that hold at the low end"
run 0 simulate --spread 0 examples/smart-hatchback/system.ini; out "at 14.8 V the voltage holds"

finish
