#!/bin/sh
# A variation taken up again: torn journals of many lengths give the same rows, journals of anything else are refused by name.
. tests/journeys/support/expect.sh

printf 'time_s,engine_rpm,programme\n0,800,music\n1,800,music\n' >"$work/short.csv"
printf 'time_s,share\n0,0.1\n1,0.3\n2,0.1\n' >"$work/song.csv"
{ cat examples/reference/ten-line.ini; printf '[programme music]\nenvelope = song.csv\n'; } >"$work/car.ini"
size="cable feed.size = 8 AWG, 4 AWG, 0 AWG"
again() { run "$1" vary "$work/car.ini" "$work/short.csv" "$size" --time-step 1ms -o "$work/out.csv"; }
again 0
cp "$work/out.csv" "$work/whole.csv"
rm "$work/out.csv"

# the rows are there, and cannot be written: the journal stays
mkdir "$work/out.csv"
again 4
rmdir "$work/out.csv"
journal=$work/out.csv.rows
[ "$(wc -l <"$journal")" -eq 4 ] || complain "a journal of three rows was wanted"
cp "$journal" "$work/journal"
bytes=$(wc -c <"$journal")
torn() { # LENGTH
  head -c "$1" "$work/journal" >"$journal"
  again 0
  cmp -s "$work/out.csv" "$work/whole.csv" || complain "torn after $1 bytes of $bytes: other rows"
  rm -f "$work/out.csv"
}
first=$(head -n 1 "$work/journal" | wc -c)
second=$(head -n 2 "$work/journal" | wc -c)
for length in 0 1 $((first - 1)) "$first" $((first + 1)) $((second - 1)) "$second" $((second + 1)) $((bytes - 1)) "$bytes"; do torn "$length"; done
length=7
while [ "$length" -lt "$bytes" ]; do torn "$length"; length=$((length + bytes / 16)); done

# a digit gone wrong: that row is computed again
sed '2s/"min_v":1\([0-9]\)/"min_v":2\1/' "$work/journal" >"$journal"
again 0; err "2 rows taken over"; cmp -s "$work/out.csv" "$work/whole.csv" || complain "a damaged row was taken over"

refused() { # WHAT, further options
  what=$1
  shift
  cp "$work/journal" "$journal"
  run 2 vary "$work/car.ini" "$work/short.csv" "$size" --time-step 1ms -o "$work/out.csv" "$@"; err "$journal: holds rows of another"
  cmp -s "$journal" "$work/journal" || complain "$what: the journal was changed"
}
refused "an option" --isothermal
refused "another option" --sure
refused "a setting" --set "vehicle.ambient = 10 C"
printf 'time_s,share\n0,0.1\n1,0.2\n2,0.1\n' >"$work/song.csv"
refused "an envelope"
printf 'time_s,share\n0,0.1\n1,0.3\n2,0.1\n' >"$work/song.csv"
sed '1s/2 [0-9a-f]*/2 0123456789abcdef/' "$work/journal" >"$journal"
run 2 vary "$work/car.ini" "$work/short.csv" "$size" --time-step 1ms -o "$work/out.csv"; err "holds rows of another"

# a varied envelope counts as well, and a row that could not be computed is still one when it is taken over
cp "$work/song.csv" "$work/tune.csv"
rm -f "$journal" "$work/out.csv"
mkdir "$work/out.csv"
songs="programme music.envelope = song.csv, tune.csv, none.csv"
with_songs() { run "$1" vary "$work/car.ini" "$work/short.csv" "$songs" --time-step 1ms -o "$work/out.csv"; }
with_songs 4
rmdir "$work/out.csv"
cp "$journal" "$work/journal"
with_songs 3; err "3 rows taken over"; err "1 row could not be computed"
cp "$work/journal" "$journal"
printf 'time_s,share\n0,0.1\n1,0.2\n2,0.1\n' >"$work/tune.csv"
with_songs 2; err "holds rows of another"

# so does the envelope of a system that only the varied key completes
printf 'time_s,share\n0,0.1\n1,0.3\n2,0.1\n' >"$work/song.csv"
sed '/^rated power/d' "$work/car.ini" >"$work/part.ini"
rm -f "$journal" "$work/out.csv"
mkdir "$work/out.csv"
in_part() { run "$1" vary "$work/part.ini" "$work/short.csv" "amplifier bass.rated power = 300 W, 500 W" --time-step 1ms -o "$work/out.csv"; }
in_part 4
rmdir "$work/out.csv"
cp "$work/tune.csv" "$work/song.csv"
in_part 2; err "holds rows of another"
finish
