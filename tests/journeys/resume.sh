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

# files that are changed while rows are made: what was read when the run began counts for all of them, and when it is taken up again
awk 'BEGIN { print "time_s,engine_rpm,programme"; print "0,800,music"; print "300,800,music" }' >"$work/long.csv"
cp "$work/long.csv" "$work/long-kept.csv"
cp examples/reference/ten-line.ini "$work/plain.ini"
cp "$work/plain.ini" "$work/plain-kept.ini"
many="amplifier bass.rated power = 400 W .. 1000 W step 10 W"
rm -f "$journal" "$work/out.csv"
begin() { # FILES; leaves it running with its first rows written
  "$tailvolt" vary "$@" "$many" -o "$work/out.csv" --threads 1 >"$work/out" 2>"$work/err" &
  pid=$!
  asked="vary $*, changed on the way"
  waited=0
  while [ "$(cat "$journal" 2>/dev/null | wc -l)" -lt 4 ] && [ $waited -lt 600 ]; do sleep 0.05; waited=$((waited + 1)); done
}
end() { # WANTED
  code=0
  wait $pid || code=$?
  [ "$code" -eq "$1" ] || complain "$asked: exit code $code, wanted $1: $(head -2 "$work/err")"
}
run 0 vary "$work/plain.ini" "$work/long.csv" "$many" --threads 1 -f csv
cp "$work/out" "$work/whole.csv"
begin "$work/plain.ini" "$work/long.csv"
sed 's/,800,/,2500,/' "$work/long-kept.csv" >"$work/long.csv"
sed 's/70 Ah/40 Ah/' "$work/plain-kept.ini" >"$work/plain.ini"
end 0; err "plain.ini: was changed since the run began"; err "long.csv: was changed since the run began"
cmp -s "$work/out.csv" "$work/whole.csv" || complain "$asked: rows of two profiles or systems in one table"
cp "$work/long-kept.csv" "$work/long.csv"
cp "$work/plain-kept.ini" "$work/plain.ini"
rm "$work/out.csv"
begin "$work/plain.ini" "$work/long.csv"
sed 's/,800,/,2500,/' "$work/long-kept.csv" >"$work/long.csv"
waited=0
while [ "$(wc -l <"$journal")" -lt 20 ] && [ $waited -lt 600 ]; do sleep 0.05; waited=$((waited + 1)); done
kill -TERM $pid
end 143
run 2 vary "$work/plain.ini" "$work/long.csv" "$many" -o "$work/out.csv"; err "holds rows of another"
cp "$work/long-kept.csv" "$work/long.csv"
run 0 vary "$work/plain.ini" "$work/long.csv" "$many" -o "$work/out.csv"; err "taken over"
cmp -s "$work/out.csv" "$work/whole.csv" || complain "$asked: rows of two profiles in one table"
rm "$work/out.csv"

# an envelope is read from its file all along: the run ends, and what it had is right
cp "$work/song.csv" "$work/song-kept.csv"
run 0 vary "$work/car.ini" "$work/long.csv" "$many" --threads 1 -f csv
cp "$work/out" "$work/whole.csv"
begin "$work/car.ini" "$work/long.csv"
printf 'time_s,share\n0,0.5\n1,0.3\n2,0.1\n' >"$work/song.csv"
end 3; err "song.csv: was changed while rows were made from it"
cp "$work/song-kept.csv" "$work/song.csv"
run 0 vary "$work/car.ini" "$work/long.csv" "$many" -o "$work/out.csv"; err "taken over"
cmp -s "$work/out.csv" "$work/whole.csv" || complain "$asked: rows of two envelopes in one table"
rm "$work/out.csv"

# the job of a report is taken up again too, wherever its files are put
run 0 simulate --spread 0 "$work/car.ini" "$work/short.csv" -f json -o "$work/job.json"
mkdir "$work/out.csv"
run 4 vary --from "$work/job.json" "$size" -o "$work/out.csv"
rmdir "$work/out.csv"
run 0 vary --from "$work/job.json" "$size" -o "$work/out.csv"; err "3 rows taken over"
rm "$work/out.csv"

# what is no file has no journal: what stands there may be a pipe, or another's
if [ -e /dev/fd/1 ]; then
  run 0 vary "$work/car.ini" "$work/short.csv" "$size" --time-step 1ms -f csv -o /dev/null
  run 0 vary "$work/car.ini" "$work/short.csv" "$size" --time-step 1ms -f csv
  cp "$work/out" "$work/whole.csv"
  for name in /dev/stdout /dev/fd/1; do
    run 0 vary "$work/car.ini" "$work/short.csv" "$size" --time-step 1ms -f csv -o $name; silent_err
    cmp -s "$work/out" "$work/whole.csv" || complain "$asked: other rows"
    "$tailvolt" vary "$work/car.ini" "$work/short.csv" "$size" --time-step 1ms -f csv -o $name | cmp -s - "$work/whole.csv" ||
      complain "$asked: a pipe gets other rows"
  done
  ls /dev/*.rows "$work"/*.rows >/dev/null 2>&1 && complain "a journal for what is no file"
fi
mkfifo "$journal"
whole=$tailvolt
printf '#!/bin/sh\nexec timeout 20 "%s" "$@"\n' "$whole" >"$work/at-once"
chmod +x "$work/at-once"
tailvolt=$work/at-once
again 4; err "$journal: is no file"
[ -p "$journal" ] || complain "$asked: the pipe is gone"
tailvolt=$whole
rm "$journal"
cp "$work/short.csv" "$journal"
run 2 vary "$work/car.ini" "$journal" "$size" -o "$work/out.csv"; err "is an input of this command"
rm "$journal"

# without a row there is nothing to be kept
"$tailvolt" vary "$work/car.ini" "$work/long.csv" "$many" --threads 1 --time-step 0.01ms -o "$work/out.csv" >"$work/out" 2>"$work/err" &
pid=$!
asked="vary, stopped before its first row"
waited=0
while [ ! -s "$journal" ] && [ $waited -lt 300 ]; do sleep 0.05; waited=$((waited + 1)); done
kill -TERM $pid
end 143; err "stopped before a row was finished"
[ ! -e "$journal" ] || complain "$asked: a journal without rows is left behind"
finish
