#!/bin/sh
# Every lesson runs, draws its pictures, and what it tells the class to notice is what happens.
. tests/journeys/support/expect.sh

case $tailvolt in */*) TAILVOLT=$(cd "$(dirname "$tailvolt")" && pwd)/$(basename "$tailvolt") ;; *) TAILVOLT=$tailvolt ;; esac
export TAILVOLT
# the sanitizers slow this down tenfold and change no number
if grep -q '^TAILVOLT_MODE:[A-Z]*=dev$' "$(dirname "$tailvolt")/CMakeCache.txt" 2>/dev/null; then
  echo "skipped: not under sanitizers"
  exit 77
fi

# two at a time; each into files of its own
for lesson in examples/lessons/[01]*.sh; do
  number=$(basename "$lesson" | cut -c1-2)
  (
    code=0
    sh "$lesson" "$work/pictures" >"$work/out-$number" 2>"$work/err-$number" || code=$?
    echo "$code" >"$work/code-$number"
  ) &
  case $number in *[13579]) ;; *) wait ;; esac
done
wait

ran=0
for lesson in examples/lessons/[01]*.sh; do
  asked=$lesson
  ran=$((ran + 1))
  number=$(basename "$lesson" | cut -c1-2)
  cp "$work/out-$number" "$work/out"
  cp "$work/err-$number" "$work/err"
  [ "$(cat "$work/code-$number")" -eq 0 ] || complain "$lesson ended with $(cat "$work/code-$number"): $(head -3 "$work/err")"
  silent_err
  out "Three things to notice:"; out "\$ $TAILVOLT "
  [ "$(grep -c '^[123]\. ' "$work/out")" -eq 3 ] || [ "$(sed -n '/^Three/,$p' "$work/out" | grep -c '^[123]\. ')" -eq 3 ] ||
    complain "$lesson does not list three things"
  if command -v gnuplot >/dev/null 2>&1; then
    drawn=$(ls "$work/pictures" | grep -c "^$number-.*\.svg$")
    [ "$drawn" -ge 1 ] || complain "$lesson drew nothing"
    for picture in "$work/pictures/$number"-*.svg; do
      grep -q '</svg>' "$picture" || complain "$picture is not whole"
      [ -f "examples/lessons/pictures/$(basename "$picture")" ] || complain "no picture is shown for $(basename "$picture")"
    done
  fi
done
[ $ran -eq 10 ] || complain "$ran lessons, ten were wanted"

# commands shown can be typed again in the reader's folder
typed=$(sed -n 's/^\$ //p' "$work/out-01" | grep -m 1 ' simulate ')
rm -f "$work/pictures/01-5-m.json"
sh -c "$typed" && [ -s "$work/pictures/01-5-m.json" ] || complain "typed again, this does nothing: $typed"

# holds FILE COLUMN CONDITION CLAIM: v[1], v[2] ... are the column's figures in the order of the rows
holds() {
  column=$(head -1 "$work/pictures/$1" | tr ',' '\n' | grep -nx "$2" | cut -d: -f1)
  [ -n "$column" ] || { complain "$1 has no column $2"; return; }
  awk -F, -v c="$column" "NR > 1 { v[NR - 1] = \$c + 0 } END { exit !($3) }" "$work/pictures/$1" ||
    complain "$4: $(cut -d, -f"$column" "$work/pictures/$1" | tr '\n' ' ')"
}

holds 01-thin-cable.csv bass:min_v 'v[2]-v[1] > v[3]-v[2] && v[3]-v[2] > v[4]-v[3] && v[4] > v[3]' "1: each step wins less than the one before"
holds 01-thin-cable.csv bass:rest_v 'v[5]-v[1] < 0.05' "1: the rest voltage is the same"
holds 01-thin-cable.csv bass:mean_a '(v[1]-v[5]) / v[5] < 0.08' "1: the mean current hardly changes"
holds 01-thin-cable.csv bass:feed_drop_v 'v[1]-v[2] > v[2]-v[3] && v[5] > 0.2 * v[1]' "1: the feed side keeps less, fuse and joints remain"
# kept RESULT.json NAME: the largest drop of a conductor
kept() { awk -v w="\"$2\"" '$1 == "\"name\":" { h = index($0, "\"name\": " w) > 0 } h && $1 == "\"max_drop_v\":" { print $2 + 0; exit }' "$work/pictures/$1"; }
awk -v a="$(kept 01-5-m.json feed)" -v b="$(kept 01-10-m.json feed)" -v f="$(kept 01-5-m.json main)" -v g="$(kept 01-10-m.json main)" \
  'BEGIN { d = b - 2 * a; e = g - f; exit !(a > 0.5 && d < 0.001 && d > -0.001 && f > 0.05 && e < 0.001 && e > -0.001) }' ||
  complain "1: twice the length doubles the cable's volts: $(kept 01-5-m.json feed), $(kept 01-10-m.json feed)"
holds 02-length.csv bass:feed_drop_v 'v[1]+v[7]-2*v[4] < 0.06*v[7] && v[1]+v[7]-2*v[4] > -0.06*v[7]' "2: each metre costs the same again"
holds 02-length.csv bass:min_v 'v[12]-v[2] < 0.1 && v[12]-v[2] > -0.1' "2: 5 m of 4 AWG do as well as 2 m of 8 AWG"
holds 02-length.csv bass:min_v 'v[15]-v[1] < 0.3 * (v[21]-v[7])' "2: the lines meet near zero length"
holds 03-ground.csv bass:min_v 'v[1]-v[4] > 0.8' "3: the amplifier loses about a volt"
holds 03-ground.csv bass:feed_drop_v 'v[1]-v[4] < 0.1 && v[4]-v[1] < 0.1' "3: the feed is as it was"
# the ledger's largest drop is the stud's, and the picture marks it
awk '/"sag_ledger"/ { l = 1 } l && $1 == "\"part\":" { part = $0 } l && $1 == "\"drop_v\":" { if ($2 + 0 > most) { most = $2 + 0; name = part } }
  l && /"residual_v"/ { exit } END { exit !(name ~ /body stud/) }' "$work/pictures/03-ground.json" || complain "3: the stud is not the worst"
holds 03-ground.csv bass:ground_drop_v 'v[4] > v[1] + 1.0' "3: the ground side keeps a volt more"
holds 04-capacitor.csv bass:min_without_ripple_v 'v[3]-v[1] > 0.2 && v[3]-v[1] < 0.9' "4: the beat's part"
both() { head -1 "$work/pictures/04-capacitor.csv" | tr ',' '\n' | grep -nx "$1" | cut -d: -f1; }
awk -F, -v m="$(both bass:min_v)" -v r="$(both bass:min_without_ripple_v)" 'NR == 2 { a = $m; b = $r } NR == 4 { exit !($m - a > 2 * ($r - b)) }' \
  "$work/pictures/04-capacitor.csv" || complain "4: most of what 1 F wins is ripple"
holds 04-capacitor.csv bass:min_v 'v[3]-v[1] > 1.0' "4: more than a volt at the amplifier"
holds 04-capacitor.csv battery:min_v 'v[3]-v[1] > 0.1 && v[3]-v[1] < 0.5' "4: far less at the lights"
holds 04-capacitor.csv bass:mean_v 'v[3]-v[1] < 0.1' "4: the mean stays nearly as it is"
holds 04-capacitor.csv battery:end_soc_pct 'v[3]-v[1] < 0.05 && v[1]-v[3] < 0.05' "4: the charge stays as it is"
holds 06-cold.csv bass:battery_drop_v 'v[1] < v[2] && v[2] < v[3] && v[3] < v[4] && v[4] < v[5]' "6: the battery keeps more in the cold"
holds 06-cold.csv bass:feed_drop_v 'v[5] < v[1]' "6: cold copper loses less"
holds 06-cold.csv bass:mean_a 'v[5] > v[1]' "6: a regulated amplifier takes more current at a lower voltage"
holds 07-tired.csv bass:rest_v 'v[1]-v[5] < 0.05' "7: at rest all show the same"
holds 07-tired.csv bass:min_v 'v[1]-v[2] < 0.3 && v[4]-v[5] > 0.5' "7: little at first, then the cut-out"
holds 07-tired.csv bass:cut_outs 'v[4] == 0 && v[5] > 0' "7: at 20 % it cuts out"
holds 07-tired.csv bass:off_s 'v[1] == 0 && v[4] == 0 && v[5] > 15' "7: silent for most of the time"
holds 07-tired.csv bass:mean_a 'v[4] > v[1] && v[5] < 0.3 * v[1]' "7: a small mean current is music that is missing"
holds 07-tired.csv bass:min_v 'v[1]-v[2] > 0.13 && v[1]-v[2] < 0.2' "7: a sixth of a volt"
holds 09-clad.csv bass:min_v 'v[2] < v[1] && v[4] < v[3] && v[6] < v[5] && v[8] < v[7]' "9: clad sags more at every size"
holds 09-clad.csv bass:min_v 'v[6]-v[3] < 0.15 && v[3]-v[6] < 0.15' "9: 2 AWG clad is worth 4 AWG copper"
holds 09-clad.csv bass:min_v 'v[1]-v[2] > v[3]-v[4] && v[3]-v[4] > v[5]-v[6]' "9: the thinner the wider the gap"
holds 10-crest.csv bass:mean_a 'v[2] > 1.8*v[3] && v[3] > 1.8*v[4] && v[4] > 1.8*v[5] && v[2] < 2.2*v[3] && v[1] > 2*v[2]' "10: half for each 3 dB"
holds 10-crest.csv bass:peak_a 'v[2] < 1.125 * v[5]' "10: the peaks ask for the same within an eighth"
holds 10-crest.csv surplus_a 'v[1] < -10 && v[2] > 0 && v[2] < 5' "10: only the sine leaves the alternator short"

# by phase: surplus at idle and at 2000 rpm; the cable's part of the sag stays
surplus() { sed -n "/\"by_phase\"/,/^  }/p" "$work/pictures/05-result.json" | tr -d '\n' | sed "s/.*\"$1\": {[^}]*\"surplus_a\": \([-0-9.]*\).*/\1/"; }
awk -v idle="$(surplus idle)" -v road="$(surplus road)" 'BEGIN { exit !(idle < 8 && road > idle + 15) }' ||
  complain "5: surplus at idle $(surplus idle) A, at 2000 rpm $(surplus road) A"

number() { sed -n "s/.*\"$2\": \([0-9.]*\),*$/\1/p" "$work/pictures/$1" | head -1; }
awk -v loud="$(number 08-parked.json until_s)" -v quiet="$(number 08-quieter.json until_s)" 'BEGIN { exit !(loud > 0 && quiet > 3 * loud) }' ||
  complain "8: 6 dB quieter plays $(number 08-quieter.json until_s) s, loud $(number 08-parked.json until_s) s"
awk -v soc="$(number 08-parked.json soc_pct)" 'BEGIN { exit !(soc > 25) }' || complain "8: the battery is flat at the end"
# the pictures shown for playing parked match today's run in words
for picture in 08-parked.svg 08-quieter.svg 08-evenings.svg; do
  [ -f "$work/pictures/$picture" ] || continue
  words() { grep -oE '>[^<>]+<' "$1" | grep -E '[A-Za-z0-9]'; }
  words "$work/pictures/$picture" >"$work/drawn"
  words "examples/lessons/pictures/$picture" >"$work/shown"
  [ -s "$work/drawn" ] && cmp -s "$work/drawn" "$work/shown" || complain "8: $picture shows other figures than a run of today: draw the lesson anew and copy its pictures"
done
finish
