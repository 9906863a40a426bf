#!/bin/sh
# Pictures: each kind is drawn, as SVG, PNG and PDF, and says its finding; no dip is lost; names cannot run anything.
. tests/journeys/support/expect.sh

car=examples/lessons/car.ini
printf 'time_s,engine_rpm,programme\n0,800,silence\n1,800,music\n6,800,music\n' >"$work/short.csv"
run 0 simulate $car "$work/short.csv" -f json --record "$work/record.csv" -o "$work/result.json"
run 0 vary $car "$work/short.csv" "cable feed.size = 8 AWG, 1/0 AWG" -o "$work/one.csv"
run 0 vary $car "$work/short.csv" "cable feed.size = 8 AWG, 1/0 AWG" "cable feed.length = 1 m .. 5 m step 2 m" -o "$work/two.json"
cat >"$work/parked.json" <<'END'
{"playing": {"restart_s": 9000, "cut_out_s": 12000, "rest_limit_s": null, "until_s": 9000, "ends_by": "restart"},
 "spread": {"vehicles": 100, "until_s": {"p10": 5000, "p50": 8200, "p90": 11000}}}
END

# the script can be had without gnuplot
run 0 plot "$work/record.csv" --script "$work/voltage.gp"; silent_err; silent_out
grep -q "title = 'bass falls to\|title = 'bass stays at" "$work/voltage.gp" || complain "the title does not say the finding"
minimum=$(sed -n 's/.*"min_v": \([0-9.]*\).*/\1/p' "$work/result.json" | head -1)
sed -n '/^\$numbers/,/^END_OF_NUMBERS/p' "$work/voltage.gp" | awk 'NF == 5 { if (m == "" || $2 < m) m = $2 } END { print m }' >"$work/lowest"
awk -v a="$minimum" -v b="$(cat "$work/lowest")" 'BEGIN { exit !(a - b < 2e-6 && b - a < 2e-6) }' ||
  complain "lowest drawn $(cat "$work/lowest"), reported $minimum"

run 2 plot "$work/record.csv" -p ledger; err "is drawn from the JSON of simulate"
run 2 plot "$work/record.csv" -p voltge; err "did you mean voltage"
run 2 plot "$work/record.csv" -o picture.gif; err ".svg, .png or .pdf"
run 2 plot "$work/record.csv" --amplifier treble; err "treble"
run 2 plot "$work/one.csv" --quantity loudness; err "loudness"
run 2 plot "$work/one.csv" -p heat; err "two varied keys"
run 2 plot nowhere.csv; err "nowhere.csv"
run 2 plot "$work/record.csv" --from 100s; err "no row in the time asked for"
printf 'time_s,bass:v_min,bass:v_mean,bass:v_max,bass:target_v_max\n0,1,1,1,12\n1,1,x,1,12\n' >"$work/bad.csv"
run 2 plot "$work/bad.csv"; err "row 2"
printf 'hello\n' >"$work/odd.txt"
run 2 plot "$work/odd.txt"; err "neither a record"
run 2 plot - ; err "not standard input"

# without gnuplot on the path: said plainly, no picture, nothing left over
mkdir "$work/empty"
code=0
PATH=$work/empty "$tailvolt" plot "$work/record.csv" -o "$work/none.svg" 2>"$work/err" || code=$?
asked="plot without gnuplot"
[ $code -eq 3 ] || complain "without gnuplot: exit code $code, wanted 3"
err "needs the program gnuplot"
[ ! -e "$work/none.svg" ] || complain "a picture was written without gnuplot"

if ! command -v gnuplot >/dev/null 2>&1; then
  [ "$faults" -eq 0 ] || exit 1
  echo "skipped: gnuplot is not installed"
  exit 77
fi

draw() { # FINDING ARGUMENTS...
  finding=$1
  shift
  run 0 plot "$@" -o "$work/picture.svg"; silent_err
  grep -q "$finding" "$work/picture.svg" || complain "$asked: the picture does not say: $finding"
  grep -q '</svg>' "$work/picture.svg" || complain "$asked: the picture is not whole"
  run 0 plot "$@" -o "$work/picture.png"; silent_err
  head -c 4 "$work/picture.png" | grep -q PNG || complain "$asked: no PNG"
  run 0 plot "$@" -o "$work/picture.pdf"; silent_err
  head -c 5 "$work/picture.pdf" | grep -q '%PDF-' || complain "$asked: no PDF"
}
draw "bass [a-z ]* [0-9.]* V at" "$work/record.csv"
draw "The alternator gives up to" "$work/record.csv" -p currents
draw "charge: from" "$work/record.csv" -p charge
draw "The worst beat" "$work/record.csv" -p beat
draw "half of the time above" "$work/record.csv" -p histogram
draw "feed cable takes" "$work/result.json"
draw "WORST" "$work/result.json" -p loop
draw "lowest voltage" "$work/one.csv"
draw "1/0 AWG" "$work/two.json"
draw "of 6 combinations" "$work/two.json" -p heat
draw "mean current" "$work/two.json" --quantity mean_a --along size
draw "the car no longer starts" "$work/parked.json"
draw "At idle the alternator can give" $car "$work/record.csv"
draw "At idle the alternator can give" $car
run 0 plot "$work/record.csv"; out "</svg>"

# a single dip of one row among many stays
awk 'BEGIN { print "time_s,bass:v_min,bass:v_mean,bass:v_max,bass:a_mean,bass:target_v_max"
  for (i = 0; i < 200000; i++) print i / 100 "," (i == 123457 ? 7.25 : 12.5) ",12.6,12.7,20,12" }' >"$work/dip.csv"
run 0 plot "$work/dip.csv" --script "$work/dip.gp"
grep -q "falls to 7.25 V at 20:34" "$work/dip.gp" || complain "the dip is not in the title: $(grep title "$work/dip.gp" | head -1)"
sed -n '/^\$numbers/,/^END_OF_NUMBERS/p' "$work/dip.gp" | grep -q ' 7\.25 12\.' || complain "the dip is lost"
[ "$(wc -l <"$work/dip.gp")" -lt 1000 ] || complain "the record is not thinned"

# names that would run a command, end a string or leave a line
# (a file the command could make is looked for by the name of this journey's folder)
ran=$(basename "$work")-ran
head -1 "$work/record.csv" | awk -v name='`touch '"$ran"'`'"'"'; system("touch '"$ran"'")' 'BEGIN { FS = OFS = "," } {
  gsub(/"/, "\"\"", name)
  for (k = 1; k <= NF; k++) if (sub(/^bass:/, "", $k)) $k = "\"" name ":" $k "\""
  print
}' >"$work/names.csv"
tail -n +2 "$work/record.csv" >>"$work/names.csv"
run 0 plot "$work/names.csv" -o "$work/names.svg"
[ ! -e "$ran" ] || complain "a name ran a command"
run 0 plot "$work/names.csv" -p charge -o "$work/names.svg"
[ ! -e "$ran" ] || complain "a name ran a command"

# scripts by hand
run 0 plot "$work/record.csv" --script "$work/hand.gp"
gnuplot -d "$work/hand.gp" >"$work/hand.svg" 2>"$work/err" && grep -q '</svg>' "$work/hand.svg" || complain "the script does not run by hand"
printf '0 11 12 13 12\n1 10 12 13 12\n2 11 12 13 12\n' >"$work/voltage.dat"
gnuplot -d -e "data='$work/voltage.dat'; output='$work/byhand.png'" plots/common.gp plots/voltage.gp 2>"$work/err" &&
  head -c 4 "$work/byhand.png" | grep -q PNG || complain "plots/voltage.gp does not run by hand: $(head -2 "$work/err")"
finish
