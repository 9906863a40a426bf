#!/bin/sh
# How long it plays parked: the report, every format, options that cannot be right, a profile, a spread, Ctrl-C.
. tests/journeys/support/expect.sh
unset NO_COLOR LC_ALL LC_CTYPE LANG

van=examples/van-put-right/system.ini

run 0 parked $van; silent_err
head -1 "$work/out" | grep -q '^PLAYS .* then the battery is down to 50 %; the car still starts' ||
  complain "first line: $(head -1 "$work/out")"
[ "$(sed '/^$/,$d' "$work/out" | grep -o '^[A-Z][A-Z]*' | tr '\n' ' ')" = "PLAYS ENDS STATE BACK SAFETY SURE NEXT " ] ||
  complain "labels: $(sed '/^$/,$d' "$work/out" | grep -o '^[A-Z][A-Z]*' | tr '\n' ' ')"
first_screen() { # at most 80 columns, two lines per label, the second indented by 8
  sed '/^$/,$d' "$work/out" | awk -v asked="$asked" '
    length > 80 { print asked ": over 80 columns: " $0; bad = 1 }
    /^[A-Z]/ { lines = 0 }
    ++lines > 2 { print asked ": a third line: " $0; bad = 1 }
    !/^[A-Z]/ && !/^        [^ ]/ { print asked ": not indented by 8: " $0; bad = 1 }
    END { exit bad }' || complain "the first screen"
}
first_screen
out "DISCHARGE of "; out "THE START"; out "at idle, "; out "in town or "; out "on the motorway"; out "left standing, key off"
out "--for 2h finds the level that lasts 2 h"
awk 'length > 100 { exit 1 }' "$work/out" || complain "a line is wider than 100 columns"
if LC_ALL=C grep -q '[^ -~]' "$work/out"; then complain "bytes beyond ASCII without a UTF-8 locale"; fi
cp "$work/out" "$work/plain"
run 0 parked --quiet $van; cmp -s "$work/out" "$work/plain" || complain "two runs differ"

# formats
run 0 parked $van -f json --spread 0 --time-step 4ms
for key in '"restart_s"' '"cut_out_s"' '"rest_limit_s"' '"until_s"' '"ends_by": "rest limit"' '"soc_pct"' '"rest_v"' \
  '"cranking_v"' '"spread": null' '"wanted": null'; do out "$key"; done
if command -v python3 >/dev/null 2>&1; then
  python3 -c 'import json,sys; json.load(open(sys.argv[1]))' "$work/out" || complain "not one JSON document"
fi
run 0 parked $van -f csv --spread 0 --time-step 4ms
[ "$(wc -l <"$work/out")" -eq 2 ] || complain "CSV has not a header and one row"
run 0 parked $van -o "$work/report"; silent_out
cmp -s "$work/report" "$work/plain" || complain "--output holds something else"

# a wanted time: level, verdict, exit code
run 0 parked --spread 0 --time-step 4ms $van --for 3h; first_screen
out "FAILS   3 h wanted: plays only "; out "3 h lasts at -"
tr -s "\n " " " <"$work/out" | grep -q "at this level: tailvolt remedy --parked 3h" || complain "no word of remedy"
run 1 parked --spread 0 --time-step 4ms $van --for 3h --strict
run 0 parked --spread 0 --time-step 4ms $van --for 30min --strict; out "HOLDS   30 min wanted: plays 1 h 0"; out "lasts even at 0 dB"
run 1 parked --spread 0 --time-step 4ms $van --set "targets.parked = 2 h" --strict; out "FAILS   2 h wanted"
# long enough, but unsafe: as `simulate` has it
run 0 parked --spread 0 --time-step 4ms $van --for 30min --set "fuse main.rating = 400 A"; out "SAFETY  FAILS: "
run 1 parked --spread 0 --time-step 4ms $van --for 30min --set "fuse main.rating = 400 A" --strict; out "HOLDS   30 min wanted"
run 1 parked --spread 0 --time-step 4ms $van --set "fuse main.rating = 400 A" --strict; out "PLAYS "

# what ends it
run 0 parked --spread 0 --time-step 4ms $van --soc-limit 0% --level -10 -f json; out '"ends_by": "restart"'
run 0 parked --spread 0 --time-step 4ms $van --soc-limit 0% --level 0dB -f json; out '"ends_by": "cut-out"'; out '"cut_out_amplifier": "bass"'
run 0 parked --spread 0 --time-step 4ms $van --rest-limit 12.4V -f json; out '"ends_by": "rest limit"'; out '"rest_limit_v": 12.4'
run 0 parked --spread 0 --time-step 4ms $van --longest 10min -f json; out '"ends_by": "limit of 0.17 h"'; out '"until_s": 600.0'
run 0 parked --spread 0 --time-step 4ms $van --longest 20min --full -f json; out '"kind": "every step"'
run 0 parked --spread 0 --time-step 4ms $van --temperature -20C --floor 9.5V; out "at -20 C"

# a profile; its last row goes on
printf 'time_s,level_db\n0,-10\n600,-3\n1200,-3\n' >"$work/evening.csv"
run 0 parked --spread 0 --time-step 4ms $van "$work/evening.csv"; out "evening.csv"
printf 'time_s,engine_rpm\n0,0\n600,900\n1200,900\n' >"$work/driving.csv"
run 2 parked --spread 0 $van "$work/driving.csv"; err "the engine runs at 600 s"; silent_out

# a second battery behind a relay plays, the first starts
cat >"$work/two.ini" <<'INI'
[engine]
starts from = starter
[battery starter]
positive = post
negative = ground
capacity = 60 Ah
[battery house]
positive = house
negative = ground
kind = AGM
capacity = 70 Ah
[alternator]
positive = post
negative = ground
rated current = 90 A
[isolator split]
from = post
to = house
[cable feed]
from = house
to = plus
size = 16 mm2
length = 2 m
[amplifier bass]
positive = plus
negative = ground
rated power = 400 W
INI
run 0 parked --spread 0 --time-step 4ms "$work/two.ini" --level -3; first_screen
out "BATTERIES at the end"; out "still starts after"; out "starter %"
out "STATE   battery house (music) 50 %, "; out "; battery starter 8"
head -2 "$work/out" | tr '\n' ' ' | grep -q 'then battery house is down to 50 %; the car still  *starts' ||
  complain "two batteries: $(head -2 "$work/out")"

# the cold: the starter's own floor, and the rule of thumb beside it
run 0 parked --spread 0 --time-step 4ms $van --temperature -18C --set "battery starter.state of charge = 100 %" --soc-limit 0%
first_screen; out "if it needs 9.0 V)"; out "(by its equation at that temperature)"

# other cars: lithium-iron is drawn deeper, a converter car boots and is charged when it is ready
short='[alternator]
rated current = 110 A
[amplifier bass]
rated power = 800 W
[cable feed]
size = 4 AWG
length = 5.5 m'
printf '%s\n[battery]\nkind = lithium-iron\ncapacity = 70 Ah\n' "$short" >"$work/lithium.ini"
run 0 parked --spread 0 --time-step 4ms "$work/lithium.ini"; first_screen; out "then the battery is down to 20 %"
run 0 parked --spread 0 --time-step 4ms "$work/lithium.ini" --temperature -20C; first_screen; out "PLAYS   0 s, the car does not start even before"
# below 0 C the pack gives what it has and takes no charge; one that has shut itself off cannot be revived by charging
run 0 parked --spread 0 --time-step 4ms "$work/lithium.ini" --temperature -5C; first_screen
out "then the car no longer starts"; tr -s "\n " " " <"$work/out" | grep -q "no driving puts it back while the pack is below 0 C" ||
  complain "no word of the cold pack"
printf '[vehicle]\ncharging = converter\n[converter]\nrated current = 100 A\n[battery]\ncapacity = 45 Ah\n' >"$work/hybrid.ini"
printf '%s\n' "$short" | sed 1,2d >>"$work/hybrid.ini"
run 0 parked --spread 0 --time-step 4ms "$work/hybrid.ini"; first_screen
out "the car still switches on"; out "while the car boots, needs 10.5 V"; out "switched on (charged whenever the car is ready)"

# spread: the same for any number of threads; 64 such cars unless another number is asked for
grep -q "SPREAD over 64 vehicles" "$work/plain" || complain "no spread by default"
run 0 parked $van --spread 6 --threads 1 --time-step 4ms -f json; out '"p50"'; out '"partial": false'; out '"certainty"'; out '"share_pct"'
cp "$work/out" "$work/one"
run 0 parked $van --spread 6 --threads 2 --time-step 4ms -f json
cmp -s "$work/one" "$work/out" || complain "threads change the spread"
run 0 parked $van --spread 4 --time-step 4ms --set "tolerance.level = +-0 dB" --for 1h
first_screen; out "of 100 such cars play 1 h ("
out "SPREAD over 4 vehicles"; out "MEASURE FIRST"; out "would not start"
awk 'length > 100 { exit 1 }' "$work/out" || complain "a line of the spread is wider than 100 columns"

# Ctrl-C during the spread: what was done, marked
asked="parked, interrupted"
for seconds in 3 10 30; do # until the spread has begun, later on a busy machine
  "$tailvolt" parked $van --spread 100000 --time-step 4ms >"$work/out" 2>"$work/err" &
  process=$!
  sleep $seconds
  kill -INT $process
  code=0
  wait $process || code=$?
  if grep -q PARTIAL "$work/out"; then break; fi
done
[ $code -eq 130 ] || complain "$asked: exit code $code, wanted 130"
out "PARTIAL"; err "the spread is of"

# and however short the steps
stopped parked $van --spread 0 --time-step 0.001ms; err "stopped before"; silent_out

# options that cannot be right
run 2 parked $van --floor 9; err "--floor 9: write a value with its unit (V or mV)"; silent_out
run 2 parked $van --soc-limit 150%; err "must be between"
run 2 parked $van --for 3; err "which unit"
run 2 parked $van --programme drum; err "did you mean drums?"
run 2 parked $van --programme silence; err "nothing would play"
run 2 parked $van --settle 10s; err "--settle does not apply"
run 2 parked $van --spread some; err "whole number"
run 2 parked; err "parked needs SYSTEM [PROFILE]"
run 0 help parked; out "--spread N"; out "--soc-limit"
finish
