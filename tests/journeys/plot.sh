#!/bin/sh
# Pictures: each kind is drawn, as SVG, PNG and PDF, and states its finding; no dip is lost; names cannot run anything.
. tests/journeys/support/expect.sh

car=examples/lessons/car.ini
printf 'time_s,engine_rpm,programme\n0,800,silence\n1,800,music\n6,800,music\n' >"$work/short.csv"
run 0 simulate --spread 0 $car "$work/short.csv" -f json --record "$work/record.csv" -o "$work/result.json"
run 0 vary $car "$work/short.csv" "cable feed.size = 8 AWG, 1/0 AWG" -o "$work/one.csv"
run 0 vary $car "$work/short.csv" "cable feed.size = 8 AWG, 1/0 AWG" "cable feed.length = 1 m .. 5 m step 2 m" -o "$work/two.json"
cat >"$work/parked.json" <<'END'
{"playing": {"restart_s": 9000, "cut_out_s": 12000, "rest_limit_s": null, "until_s": 9000, "ends_by": "restart"},
 "spread": {"vehicles": 100, "until_s": {"p10": 5000, "p50": 8200, "p90": 11000}}}
END

cat >"$work/evening.json" <<'END'
{"playing": {"restart_s": 9000, "cut_out_s": null, "rest_limit_s": 6000, "until_s": 6000, "ends_by": "rest limit",
  "soc_limit_pct": 50, "followed_s": 9600},
 "wanted": {"for_s": 7200, "holds": false},
 "moments": [{"time_s": 0, "soc_pct": 85, "rest_v": 12.5, "min_v": 11.5, "cranking_v": 11.3, "floor_v": 8,
   "music_soc_pct": 85}, {"time_s": 4800, "soc_pct": 60, "rest_v": 12.3, "min_v": 11.2, "cranking_v": 10.9,
   "floor_v": 8, "music_soc_pct": 60}, {"time_s": 9600, "soc_pct": 20, "rest_v": 12.0, "min_v": 9.0, "cranking_v": 7.5,
   "floor_v": 8, "music_soc_pct": 20}],
 "spread": {"vehicles": 64, "until_s": {"p10": 5000, "p50": 6200, "p90": null}}}
END
sed 's/"until_s": 6000/"until_s": 9000/' "$work/evening.json" >"$work/longer.json"
run 0 simulate --spread 0 $car "$work/short.csv" --set "cable feed.size = 1/0 AWG" -f json --record "$work/thick.csv" -o "$work/thick.json"

# no line crosses a label: labels are in front with a box, lines are not; the dot of the middle is explained where it is drawn, and only there
run 0 plot "$work/evening.json" -p evening --script "$work/evening.gp"; silent_err
grep -q '^ *set label.* boxed front$' "$work/evening.gp" || complain "labels are not in front"
if grep '^ *set label [1-5] .*boxed$' "$work/evening.gp" || grep '^ *set arrow .*nohead.* front$' "$work/evening.gp"; then
  complain "a line may cross a label"
fi
if grep -q "(dot)" "$work/evening.gp"; then complain "a dot is explained that is not drawn"; fi
run 0 plot "$work/evening.json" -p playing --script "$work/playing.gp"; silent_err
grep -q ", half longer than 1 h 43 min (dot)" "$work/playing.gp" || complain "the dot is not explained"

# the script is available without gnuplot
run 0 plot "$work/record.csv" --script "$work/voltage.gp"; silent_err; silent_out
grep -q "title = 'bass falls to\|title = 'bass stays at" "$work/voltage.gp" || complain "the title does not say the finding"
minimum=$(sed -n 's/.*"min_v": \([0-9.]*\).*/\1/p' "$work/result.json" | head -1)
sed -n '/^\$numbers/,/^END_OF_NUMBERS/p' "$work/voltage.gp" | awk 'NF == 5 { if (m == "" || $2 < m) m = $2 } END { print m }' >"$work/lowest"
awk -v a="$minimum" -v b="$(cat "$work/lowest")" 'BEGIN { exit !(a - b < 2e-6 && b - a < 2e-6) }' ||
  complain "lowest drawn $(cat "$work/lowest"), reported $minimum"

# files of one name are told apart by their folders, all of them
mkdir -p "$work/a" "$work/b" "$work/c"
for folder in a b c; do cp "$work/record.csv" "$work/$folder/record.csv"; done
run 0 plot "$work/a/record.csv" "$work/b/record.csv" "$work/c/record.csv" --script "$work/alike.gp"
for folder in a b c; do grep -q "$folder/record.csv: lowest" "$work/alike.gp" || complain "the curve of $folder/record.csv bears no folder"; done

run 2 plot "$work/record.csv" -p ledger; err "is drawn from the JSON of simulate"
# names that gnuplot's quotes or a spreadsheet would trip over, as they are
for name in "=x" "'x" "x''y'" "-2+3"; do
  sed "s/^\[amplifier .*/[amplifier $name]/" examples/reference/ten-line.ini >"$work/named.ini"
  run 0 simulate --spread 0 "$work/named.ini" "$work/short.csv" --record "$work/named.csv"
  run 0 plot "$work/named.csv" --script "$work/named.gp"
  grep -q "^title = ['\"]$name" "$work/named.gp" ||
    complain "the picture does not name $name: $(grep '^title' "$work/named.gp")"
  if command -v gnuplot >/dev/null 2>&1; then run 0 plot "$work/named.csv" -o "$work/named.svg"; fi
done
run 2 plot "$work/record.csv" -p voltge; err "did you mean voltage"
run 2 plot "$work/record.csv" -o picture.gif; err ".svg, .png or .pdf"
run 2 plot "$work/record.csv" --amplifier treble; err "treble"
run 2 plot "$work/one.csv" --quantity loudness; err "loudness"
run 2 plot "$work/one.csv" -p heat; err "two varied keys"
run 2 plot nowhere.csv; err "nowhere.csv"
run 2 plot "$work/record.csv" --from 100s; err "no row in the requested time"
printf 'time_s,bass:v_min,bass:v_mean,bass:v_max,bass:target_v_max\n0,1,1,1,12\n1,1,x,1,12\n' >"$work/bad.csv"
run 2 plot "$work/bad.csv"; err "row 2"
printf 'hello\n' >"$work/odd.txt"
run 2 plot "$work/odd.txt"; err "is not a record, variation, result, comparison, profile, envelope or system file"
run 2 plot - ; err "not standard input"

run 2 plot "$work/record.csv" -o picture; err ".svg, .png or .pdf"
run 2 plot "$work/record.csv" --from soon; err "not a time"
run 2 plot "$work/one.csv" --amplifier tops; err "has no column min_v of tops"
run 2 plot "$work/one.csv" --along health; err "has no key \`health\`"
printf '{"keys": ["cable feed.size"], "rows": [{"row": 1}, 5]}' >"$work/odd.json"
run 2 plot "$work/odd.json"; err "row 2 of the variation is not an object"
printf '{"keys": [], "rows": []}' >"$work/odd.json"
run 2 plot "$work/odd.json"; err "has no keys"

# the size in pixels
run 0 plot "$work/record.csv" --size 800x600 --script "$work/size.gp"
grep -q '^width = 800' "$work/size.gp" && grep -q '^height = 600' "$work/size.gp" || complain "$asked: another size"
for size in 800 800x 199x400 800x9000 800x600x 8a0x600 100000x5 ''; do
  run 2 plot "$work/record.csv" --size "$size" --script "$work/size.gp"; err "--size $size: must be WIDTHxHEIGHT"
done

run 2 plot "$work/record.csv" "$work/thick.csv" -p beat; err "drawn over each other as"
run 2 plot "$work/result.json" "$work/thick.json" -p loop; err "drawn as \`compare\`"
run 2 plot "$work/evening.json" "$work/longer.json" -p playing; err "drawn as \`evenings\`"
run 2 plot nowhere.csv nowhere.csv nowhere.csv nowhere.csv nowhere.csv nowhere.csv nowhere.csv; err "at most 6 files"
run 2 plot "$work/one.csv" "$work/two.json"; err "shows one file"
run 2 plot "$work/record.csv" -p envelope; err "is drawn from the CSV of envelope"
run 2 plot "$work/record.csv" -p evening; err "is drawn from the JSON of parked"
printf 'time_s,engine_rpm\n0,800\n5,x\n' >"$work/wrong.csv"
run 2 plot "$work/wrong.csv"; err "row 2 is not made of numbers"
printf 'time_s,engine_rpm\n0,800\n0,900\n' >"$work/wrong.csv"
run 2 plot "$work/wrong.csv"; err "row 2 does not come after"
printf 'time_s,engine_rpm\n0,800\n' >"$work/wrong.csv"
run 2 plot "$work/wrong.csv"; err "two rows"
printf 'time_s,speed_kmh\n0,0\n5,30\n' >"$work/wrong.csv"
run 2 plot "$work/wrong.csv"; err "no column of a load profile"
printf 'time_s,share\n0,0.5\n0.01,x\n' >"$work/wrong.csv"
run 2 plot "$work/wrong.csv"; err "row 2"

# a peak in a title is the highest step of the record, not the mean of a row
run 0 plot "$work/record.csv" -p currents --script "$work/currents.gp"
highest=$(awk -F, 'NR == 1 { for (k = 1; k <= NF; k++) if ($k == "battery:a_max") at = k; next }
  $at > most { most = $at } END { printf "%.1f", most }' "$work/record.csv")
mean=$(awk -F, 'NR == 1 { for (k = 1; k <= NF; k++) if ($k == "battery:a_mean") at = k; next }
  $at > most { most = $at } END { printf "%.1f", most }' "$work/record.csv")
grep -q "battery $highest A" "$work/currents.gp" || complain "the battery's peak of $highest A is not in: $(grep title "$work/currents.gp" | head -1)"
[ "$highest" != "$mean" ] || complain "the record does not tell a peak from a mean: $highest A"

# the results' numbers are compared; the axes are in words
run 0 plot "$work/result.json" "$work/thick.json" --script "$work/compare.gp"
minimum=$(sed -n 's/.*"min_v": \([0-9]*\.[0-9][0-9]\).*/\1/p' "$work/thick.json" | head -1)
grep -q "^name2 = 'thick: .*, ${minimum%?}[0-9] V left" "$work/compare.gp" || complain "thick ($minimum V) is not in: $(grep ^name2 "$work/compare.gp")"
run 0 plot "$work/two.json" --script "$work/family.gp"
grep -q "xlabel = 'length of feed cable, m'" "$work/family.gp" || complain "not in words: $(grep xlabel "$work/family.gp" | head -1)"
grep -q "ylabel = 'lowest voltage at bass, V'" "$work/family.gp" || complain "not in words: $(grep ylabel "$work/family.gp" | head -1)"

# the end of an evening lies between two moments: 85, 60, 20 % at 0, 80, 160 min; it ends after 100 and 150 min
run 0 plot "$work/evening.json" "$work/longer.json" --script "$work/evenings.gp"
grep -q '^ 1.666667 50.0' "$work/evenings.gp" && grep -q '^ 2.5 25.0' "$work/evenings.gp" ||
  complain "the evenings do not end where they should: $(sed -n '/^.numbers/,/^END/p' "$work/evenings.gp" | tr '\n' '|')"
# anything beyond the limit is drawn as open
run 0 plot "$work/evening.json" -p playing --script "$work/playing.gp"
grep -q '"the amplifier cuts out" "later" 2.666667 2.666667' "$work/playing.gp" || complain "later is not drawn as an open bar"
grep -q '^p90_open = 1' "$work/playing.gp" || complain "an open spread is not said"

# of a report of several runs the worst, wherever it stands; a mark before the text changes nothing
run 0 plot "$work/result.json" --script "$work/alone.gp"
printf '{"runs": [%s, %s]}' "$(cat "$work/thick.json")" "$(cat "$work/result.json")" >"$work/runs.json"
run 0 plot "$work/runs.json" --script "$work/worst.gp"; cmp -s "$work/worst.gp" "$work/alone.gp" || complain "not the worst run is drawn"
{ printf '\357\273\277'; cat "$work/result.json"; } >"$work/marked.json"
run 0 plot "$work/marked.json" --script "$work/marked.gp"; cmp -s "$work/marked.gp" "$work/alone.gp" || complain "a byte-order mark is read"
for none in '{"runs": []}' '{"runs": 3}' '{"sag_ledger": []}'; do
  echo "$none" >"$work/none.json"
  run 2 plot "$work/none.json"; err "no sag ledger"
done
# files of the same name are told apart by their folders
mkdir "$work/a" "$work/b"
cp "$work/result.json" "$work/a/result.json"
cp "$work/thick.json" "$work/b/result.json"
run 0 plot "$work/a/result.json" "$work/b/result.json" --script "$work/named.gp"
grep -q "^name1 = '.*a/result.json: " "$work/named.gp" && grep -q "^name2 = '.*b/result.json: " "$work/named.gp" ||
  complain "two names are the same: $(grep '^name' "$work/named.gp" | tr '\n' ' ')"

# a profile: time need not stand first, what is silent or off has no level, and every row is there
printf 'programme:bass,time_s,engine_rpm,level_db:bass,power:bass\ndrums,0,800,-3,1\nsilence,2,800,,\ndrums,4,800,-6,\n,6,800,,0\n,8,800,,\n' >"$work/levels.csv"
run 0 plot "$work/levels.csv" --script "$work/levels.gp"
levels=$(sed -n '/^ "bass"/,/^END/p' "$work/levels.gp" | grep '^ [0-9]' | tr '\n' ';')
[ "$levels" = " 0.0 -3.0; 2.0 -3.0; 2.0 ?; 4.0 ?; 4.0 -6.0; 6.0 -6.0; 6.0 ?; 8.0 ?;" ] || complain "the levels are drawn as $levels"
awk 'BEGIN { print "time_s,engine_rpm"; for (k = 0; k < 600; k++) print k "," 800 + k }' >"$work/rows.csv"
run 0 plot "$work/rows.csv" --script "$work/rows.gp"
grep -q "title = '.*engine at 800 to 1398 rpm'" "$work/rows.gp" || complain "rows are missing: $(grep '^title' "$work/rows.gp" | head -1)"

# without gnuplot on the path: a plain message, no picture, nothing left behind
mkdir "$work/empty"
code=0
PATH=$work/empty "$tailvolt" plot "$work/record.csv" -o "$work/none.svg" 2>"$work/err" || code=$?
asked="plot without gnuplot"
[ $code -eq 3 ] || complain "without gnuplot: exit code $code, wanted 3"
err "needs the program gnuplot"
[ ! -e "$work/none.svg" ] || complain "a picture was written without gnuplot"

# one that fails: its first words, and no picture; one that cannot be run, or is ended
printf '#!/bin/sh\necho "line 0: no such terminal" >&2\nexit 1\n' >"$work/empty/gnuplot"
chmod +x "$work/empty/gnuplot"
fails_to_draw() {
  asked="plot with gnuplot that $1"
  code=0
  PATH=$work/empty "$tailvolt" plot "$work/record.csv" -o "$work/none.svg" 2>"$work/err" || code=$?
  [ $code -eq 3 ] || complain "$asked: exit code $code, wanted 3"
  err "gnuplot could not draw the picture"
  [ ! -e "$work/none.svg" ] || complain "$asked: a picture was written"
}
fails_to_draw "exits with 1"; err "gnuplot: line 0: no such terminal"
printf '#!/bin/sh\nkill -9 $$\n' >"$work/empty/gnuplot"
fails_to_draw "is killed"
chmod -x "$work/empty/gnuplot"
[ -x "$work/empty/gnuplot" ] || fails_to_draw "cannot be run"

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
draw "Peaks: alternator [0-9.]* A, battery [0-9.]* A" "$work/record.csv" -p currents
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
draw "it stops after 1 h 40 min" "$work/evening.json"
sed 's/"until_s": 6000/"until_s": 9600/; s/"followed_s": 9600/"followed_s": 9600, "longest_s": 9600/; s/"rest limit"/"limit of 2.67 h"/' \
  "$work/evening.json" >"$work/on.json"
draw "Plays over 2 h 40 min with the engine off" "$work/on.json"
draw "on: over 2 h 40 min" "$work/evening.json" "$work/on.json"
draw "Plays 1 h 40 min (evening) to over 2 h 40 min (on), engine off" "$work/evening.json" "$work/on.json"
draw "8.0 V needed to start" "$work/evening.json" -p evening
draw "9 of 10 such cars play longer than 83 min\|9 of 10 such cars play longer than 1 h 23 min" "$work/evening.json" -p playing
draw ", half longer than 1 h 43 min (dot)\|, half longer than 103 min (dot)" "$work/evening.json" -p playing
draw ">longer<" "$work/on.json" -p playing
draw "evening: 1 h 40 min" "$work/evening.json" "$work/longer.json"
draw "thick: lowest" "$work/record.csv" "$work/thick.csv"
draw "Charge at the end" "$work/record.csv" "$work/thick.csv" -p charge
draw "volts lost at the worst moment" "$work/result.json" "$work/thick.json"
draw "engine at 800 rpm" "$work/short.csv"
draw "base load" profiles/town-night-rain.csv
printf 'time_s,share\n0,0.5\n0.01,0.1\n0.02,0.9\n0.03,0.1\n' >"$work/envelope.csv"
draw "40 % of rated power on average" "$work/envelope.csv"
run 0 plot "$work/record.csv"; out "</svg>"

# a single dip of one row among many stays
awk 'BEGIN { print "time_s,bass:v_min,bass:v_mean,bass:v_max,bass:a_mean,bass:target_v_max"
  for (i = 0; i < 200000; i++) print i / 100 "," (i == 123457 ? 7.25 : 12.5) ",12.6,12.7,20,12" }' >"$work/dip.csv"
run 0 plot "$work/dip.csv" --script "$work/dip.gp"
grep -q "falls to 7.25 V at 20:34" "$work/dip.gp" || complain "the dip is not in the title: $(grep title "$work/dip.gp" | head -1)"
sed -n '/^\$numbers/,/^END_OF_NUMBERS/p' "$work/dip.gp" | grep -q ' 7\.25 12\.' || complain "the dip is lost"
[ "$(wc -l <"$work/dip.gp")" -lt 1000 ] || complain "the record is not thinned"

# names that would run a command, end a string or break a line
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
