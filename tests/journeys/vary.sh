#!/bin/sh
# Variations: one row each, the same for any threads and shards; a stopped run is resumed.
. tests/journeys/support/expect.sh

car=examples/lessons/car.ini
printf 'time_s,engine_rpm,programme\n0,800,music\n4,800,music\n' >"$work/short.csv"
size="cable feed.size = 8 AWG, 4 AWG, 0 AWG"
length="cable feed.length = 1 m .. 3 m step 1 m"

run 0 vary $car "$work/short.csv" "$size" "$length"; silent_err
out "9 of 9 combinations"; out "8 AWG     1 m"; out "0 AWG     3 m"
run 0 vary $car "$work/short.csv" "$size" -f json; out '"keys": ["cable feed.size"]'; out '"values": ["4 AWG"]'; out '"min_v"'
run 0 vary $car "$work/short.csv" "$size" "$length" -f csv --threads 1; cp "$work/out" "$work/one.csv"
run 0 vary $car "$work/short.csv" "$size" "$length" -f csv --threads 3
cmp -s "$work/out" "$work/one.csv" || complain "rows differ between one thread and three"
[ "$(wc -l <"$work/one.csv")" -eq 10 ] || complain "nine rows and a header were wanted"
head -1 "$work/one.csv" | grep -q '^row,cable feed.size,cable feed.length,status,bass:rest_v,' || complain "header: $(head -1 "$work/one.csv")"

# a row equals what simulate gives
run 0 simulate --spread 0 $car "$work/short.csv" -f csv --set "cable feed.size = 4 AWG" --set "cable feed.length = 2 m"
single=$(awk -F, 'NR == 2 { print $6 }' "$work/out")
column=$(head -1 "$work/one.csv" | tr ',' '\n' | grep -n '^bass:min_v$' | cut -d: -f1)
row=$(awk -F, -v c="$column" '$2 == "4 AWG" && $3 == "2 m" { print $c }' "$work/one.csv")
[ "$single" = "$row" ] || complain "row has $row, simulate $single"

# shards, put together
for k in 1 2 3 4; do run 0 vary $car "$work/short.csv" "$size" "$length" --shard $k/4 -o "$work/shard$k.csv"; done
sort -t, -k1,1n -u "$work"/shard?.csv | cmp -s - "$work/one.csv" || complain "shards put together are not the whole"
ls "$work" | grep -q '\.rows$' && complain "a journal is left behind"

# stopped in the middle: resumed, with the same result
awk 'BEGIN { print "time_s,engine_rpm,programme"; print "0,800,music"; print "60,800,music" }' >"$work/long.csv"
many="amplifier bass.rated power = 400 W .. 800 W step 10 W"
run 0 vary $car "$work/long.csv" "$many" -f csv --threads 1; cp "$work/out" "$work/whole.csv"
"$tailvolt" vary $car "$work/long.csv" "$many" -o "$work/stopped.csv" --threads 1 >"$work/out" 2>"$work/err" &
pid=$!
waited=0
while [ "$(cat "$work/stopped.csv.rows" 2>/dev/null | wc -l)" -lt 4 ] && [ $waited -lt 300 ]; do sleep 0.05; waited=$((waited + 1)); done
kill -9 $pid 2>/dev/null
wait $pid 2>/dev/null
if [ -f "$work/stopped.csv" ]; then
  complain "the run was over before it could be stopped"
else
  # the last line as a power cut would leave it
  printf '9\t{"row":9,"val' >>"$work/stopped.csv.rows"
  run 2 vary $car "$work/long.csv" "$size" -o "$work/stopped.csv"; err "rows of another variation"
  run 0 vary $car "$work/long.csv" "$many" -o "$work/stopped.csv"; err "taken over from"
  cmp -s "$work/stopped.csv" "$work/whole.csv" || complain "a run taken up again differs"
  [ ! -f "$work/stopped.csv.rows" ] || complain "the journal is left behind"
fi
"$tailvolt" vary $car "$work/long.csv" "$many" -o "$work/stopped.json" --threads 1 >"$work/out" 2>"$work/err" &
pid=$!
sleep 0.5
kill -TERM $pid
code=0
wait $pid || code=$?
[ $code -eq 143 ] || [ -f "$work/stopped.json" ] || complain "stopped: exit code $code"

# in every study of a row, too; no row that was cut short is kept
stopped vary $car "$work/short.csv" "cable feed.length = 1 m .. 8 m step 0.1 m" --parked --time-step 0.1ms; err "stopped"
stopped vary $car "$work/short.csv" "$size" --spread 20000 -o "$work/cut.csv"; err "stopped before a row was finished"
[ ! -e "$work/cut.csv.rows" ] || complain "$asked: kept $(wc -l <"$work/cut.csv.rows") lines"

# faults before anything runs
run 2 vary $car "$work/short.csv" "cable feed.size = 8 AWG, 9"; err "9 AWG or 9 mm2"; silent_out
run 2 vary $car "$work/short.csv" "cable feed.length = 1 m .. 3 m"; err "needs its step"; messages_are_named
run 2 vary $car "$work/short.csv"; err "vary needs"
run 2 vary $car "$work/short.csv" "$size" --shard 3/2; err "--shard 3/2"
run 2 vary - "$work/short.csv" "$size"; err "not standard input"
run 4 vary $car "$work/short.csv" "$size" -o "$work/no/such/folder.csv"; silent_out

# a part that only the varied key completes
run 0 vary $car "$work/short.csv" --set "capacitor stiffener.esr = 2 mohm" "capacitor stiffener.capacitance = 0.5 F, 1 F"; silent_err

# an impossible combination gets a row that says so, the others are unaffected
run 3 vary $car "$work/short.csv" "battery.cold cranking = 640 A EN, 200 A EN" "battery.reserve = 118 min, 300 min" -f csv
[ "$(grep -c ",not computed," "$work/out")" -eq 2 ] || complain "two rows should say that they could not be computed"
[ "$(grep -cE ",(holds|marginal|fails)," "$work/out")" -eq 2 ] || complain "the other rows are missing"
err "could not be computed"
# four keys: their names above the table, which fits
run 0 vary $car "$work/short.csv" "$size" "battery.capacity = 60 Ah, 80 Ah" "amplifier bass.rated power = 300 W, 4500 W" "battery.state of charge = 70 %, 90 %"
out "(4) battery.state of charge"; out "(1)  "; out "off s"
awk 'length > 100 { exit 1 }' "$work/out" || complain "a line of four keys is wider than 100 columns"
# a car that outlasts the search plays for longer than that
printf '[battery]\ncapacity = 220 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 10 W\nidle current = 0.1 A\n[cable feed]\nsize = 4 AWG\nlength = 5 m\n' >"$work/lasts.ini"
run 0 vary "$work/lasts.ini" examples/lessons/idle.csv "cable feed.size = 4 AWG" --parked --time-step 1ms; out "over 48 h"
run 0 vary "$work/lasts.ini" examples/lessons/idle.csv "cable feed.size = 4 AWG" --parked --time-step 1ms -f json; out '"beyond_limit": true'

# playing time parked beside each row, in all three formats
run 0 vary examples/hatchback-300w/system.ini examples/lessons/idle.csv "battery.health = 60 %, 100 %" --parked --time-step 1ms
out "plays parked"; out "(1) health"; out " h "
awk 'length > 100 { exit 1 }' "$work/out" || complain "a line is wider than 100 columns"
run 0 vary examples/hatchback-300w/system.ini examples/lessons/idle.csv "battery.health = 60 %, 100 %" --parked --time-step 1ms -f csv
head -1 "$work/out" | grep -q ',parked:until_s,' || complain "no column for the playing time"
awk -F, 'NR == 1 { for (k = 1; k <= NF; k++) if ($k == "parked:until_s") at = k; next } { s[NR] = $at } END { exit !(s[2] > 600 && s[3] > 1.2 * s[2]) }' "$work/out" ||
  complain "a healthier battery plays no longer"
run 0 vary examples/hatchback-300w/system.ini examples/lessons/idle.csv "battery.health = 60 %, 100 %" --time-step 1ms -f json; out '"parked": null'
# in how many such cars each row holds
run 0 vary $car "$work/short.csv" "battery.health = 60 %, 100 %" --spread 8; out "such cars hold"; out " of 100"
run 0 vary $car "$work/short.csv" "battery.health = 60 %, 100 %" --spread 8 -f json; out '"vehicles": 8'
run 0 vary $car "$work/short.csv" "battery.health = 60 %, 100 %" -f json; out '"certainty": null'
finish
