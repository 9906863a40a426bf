#!/bin/sh
# Every lesson runs, draws its pictures, and what it tells the class to notice is what comes out.
. tests/journeys/support/expect.sh

case $tailvolt in */*) TAILVOLT=$(cd "$(dirname "$tailvolt")" && pwd)/$(basename "$tailvolt") ;; *) TAILVOLT=$tailvolt ;; esac
export TAILVOLT
# the sanitizers slow this down tenfold and change no number
if grep -q '^TAILVOLT_MODE:[A-Z]*=dev$' "$(dirname "$tailvolt")/CMakeCache.txt" 2>/dev/null; then
  echo "skipped: not under sanitizers"
  exit 77
fi

ran=0
for lesson in examples/lessons/[01]*.sh; do
  asked=$lesson
  ran=$((ran + 1))
  sh "$lesson" "$work/pictures" >"$work/out" 2>"$work/err" || complain "$lesson ended with $?: $(head -3 "$work/err")"
  silent_err
  out "Three things to notice:"; out '$ tailvolt '
  [ "$(grep -c '^[123]\. ' "$work/out")" -eq 3 ] || [ "$(sed -n '/^Three/,$p' "$work/out" | grep -c '^[123]\. ')" -eq 3 ] ||
    complain "$lesson does not list three things"
  number=$(basename "$lesson" | cut -c1-2)
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
holds 01-thin-cable.csv bass:feed_drop_v 'v[1] > 2.5 * v[5]' "1: the feed keeps less"
holds 02-length.csv bass:feed_drop_v 'v[1]+v[7]-2*v[4] < 0.06*v[7] && v[1]+v[7]-2*v[4] > -0.06*v[7]' "2: each metre costs the same again"
holds 02-length.csv bass:min_v 'v[12]-v[2] < 0.1 && v[12]-v[2] > -0.1' "2: 5 m of 4 AWG do as well as 2 m of 8 AWG"
holds 02-length.csv bass:min_v 'v[15]-v[1] < 0.3 * (v[21]-v[7])' "2: the lines meet near zero length"
holds 03-ground.csv bass:min_v 'v[1]-v[4] > 0.8' "3: the amplifier loses about a volt"
holds 03-ground.csv bass:feed_drop_v 'v[1]-v[4] < 0.1 && v[4]-v[1] < 0.1' "3: the feed is as it was"
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
holds 09-clad.csv bass:min_v 'v[2] < v[1] && v[4] < v[3] && v[6] < v[5] && v[8] < v[7]' "9: clad sags more at every size"
holds 09-clad.csv bass:min_v 'v[6]-v[3] < 0.15 && v[3]-v[6] < 0.15' "9: 2 AWG clad is worth 4 AWG copper"
holds 09-clad.csv bass:min_v 'v[1]-v[2] > v[3]-v[4] && v[3]-v[4] > v[5]-v[6]' "9: the thinner the wider the gap"
holds 10-crest.csv bass:mean_a 'v[1] > 1.7*v[2] && v[2] > 1.7*v[3] && v[3] > 1.7*v[4] && v[4] > 1.7*v[5] && v[1] < 2.5*v[2]' "10: half for each 3 dB"
holds 10-crest.csv bass:peak_a 'v[1] < 1.3 * v[5]' "10: the peaks ask for nearly the same"
holds 10-crest.csv surplus_a 'v[1] < -10 && v[2] > 0' "10: only the sine leaves the alternator short"

# by phase: surplus at idle and at 2000 rpm; the cable's part of the sag stays
surplus() { sed -n "/\"by_phase\"/,/^  }/p" "$work/pictures/05-result.json" | tr -d '\n' | sed "s/.*\"$1\": {[^}]*\"surplus_a\": \([-0-9.]*\).*/\1/"; }
awk -v idle="$(surplus idle)" -v road="$(surplus road)" 'BEGIN { exit !(idle < 8 && road > idle + 15) }' ||
  complain "5: surplus at idle $(surplus idle) A, at 2000 rpm $(surplus road) A"

number() { sed -n "s/.*\"$2\": \([0-9.]*\),*$/\1/p" "$work/pictures/$1" | head -1; }
awk -v loud="$(number 08-parked.json until_s)" -v quiet="$(number 08-quieter.json until_s)" 'BEGIN { exit !(loud > 0 && quiet > 2.5 * loud) }' ||
  complain "8: 6 dB quieter plays $(number 08-quieter.json until_s) s, loud $(number 08-parked.json until_s) s"
awk -v soc="$(number 08-parked.json soc_pct)" 'BEGIN { exit !(soc > 25) }' || complain "8: the battery is flat at the end"
finish
