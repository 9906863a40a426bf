#!/bin/sh
# The record: a time series in a file that is complete or absent.
. tests/journeys/support/expect.sh

van=examples/van-800w-8awg
printf 'time_s,engine_rpm,programme\n0,800,drums\n2,800,drums\n' >"$work/short.csv"

run 0 simulate --spread 0 $van/system.ini "$work/short.csv" -f csv --record "$work/record.csv"; silent_err
head -1 "$work/record.csv" | grep -q '^time_s,' || complain "the record does not start with time_s"
[ "$(wc -l <"$work/record.csv")" -eq 201 ] || complain "2 s at 10 ms are $(wc -l <"$work/record.csv") lines, wanted 201"
awk -F, 'NR == 1 { n = NF } NF != n { exit 1 }' "$work/record.csv" || complain "rows of unequal length"
sed -n 2p "$work/record.csv" | grep -q '^0,' || complain "the first row is not at 0 s"

# the lowest cell of the record is the reported minimum, to the micro-volt of the file
column=$(head -1 "$work/record.csv" | tr ',' '\n' | grep -n '^bass:v_min$' | cut -d: -f1)
lowest=$(awk -F, -v c="$column" 'NR > 1 && (m == "" || $c < m) { m = $c } END { printf "%.6f", m }' "$work/record.csv")
reported=$(awk -F, 'NR == 2 { printf "%.6f", $6 }' "$work/out")
[ "$lowest" = "$reported" ] || complain "lowest in the record $lowest, reported $reported"

run 0 simulate --spread 0 $van/system.ini "$work/short.csv" --record "$work/record.csv" --record-every 100ms
[ "$(wc -l <"$work/record.csv")" -eq 21 ] || complain "2 s at 100 ms are not 21 lines"

# an existing file stays where the run cannot be made, and nothing is left behind
cp "$work/record.csv" "$work/before.csv"
printf 'time_s,engine_rpm\n0,800\n0,800\n' >"$work/bad.csv"
run 2 simulate $van/system.ini "$work/bad.csv" --record "$work/record.csv"
cmp -s "$work/record.csv" "$work/before.csv" || complain "bad input touched the record"
run 4 simulate $van/system.ini "$work/short.csv" --record "$work/no/record.csv"; silent_out
if [ -c /dev/full ]; then run 4 simulate $van/system.ini "$work/short.csv" --record /dev/full; err "cannot write"; silent_out; fi
ls "$work" | grep -q '\.part$' && complain "a temporary is left behind"
run 2 simulate $van/system.ini "$work/short.csv" --record -; err "a file of its own"
run 2 simulate $van/system.ini "$work/short.csv" --record "$work/short.csv"; err "is an input"

# Ctrl-C in a long run: stops, says where, leaves no record
awk 'BEGIN { print "time_s,engine_rpm,programme"; print "0,800,drums"; print "3000000,800,drums" }' >"$work/long.csv"
for signal in TERM:143 HUP:129; do
  "$tailvolt" simulate --spread 0 $van/system.ini "$work/long.csv" --record "$work/long-record.csv" --record-every 1h >"$work/out" 2>"$work/err" &
  pid=$!
  sleep 1
  kill -${signal%:*} $pid
  code=0; wait $pid || code=$?
  asked="a run stopped by ${signal%:*}"
  [ "$code" -eq ${signal#*:} ] || complain "$asked: exit code $code, wanted ${signal#*:}"
  err "stopped at"
  silent_out
  [ ! -e "$work/long-record.csv" ] || complain "$asked left a record"
  ls "$work" | grep -q '\.part$' && complain "$asked left a temporary"
done

# a signal that no run answers ends it at once, and leaves nothing either
"$tailvolt" simulate --spread 0 $van/system.ini "$work/long.csv" --record "$work/long-record.csv" --record-every 1h >"$work/out" 2>"$work/err" &
pid=$!
sleep 1
ls "$work" | grep -q '\.part$' || complain "no temporary while a record is written"
kill -PIPE $pid
code=0; { wait $pid; } 2>/dev/null || code=$?
[ "$code" -eq 141 ] || complain "a broken pipe: exit code $code, wanted 141"
ls "$work" | grep -q '\.part$' && complain "a broken pipe left a temporary"

# files that a system names are inputs too: no command overwrites them
printf 'time_s,share\n0,1\n1,0.2\n2,0\n' >"$work/drums.csv"
sed "s/^\[programme drums\]/&\nenvelope = drums.csv/; /^crest factor/d; /^tempo/d; /^decay/d" $van/system.ini >"$work/named.ini"
cp "$work/drums.csv" "$work/kept.csv"
for words in "simulate NAMED SHORT -o" "simulate NAMED SHORT --record" "parked NAMED -o" "remedy NAMED SHORT --write" "report NAMED SHORT -o" \
  "check NAMED -o" "remedy NAMED SHORT --prices $work/drums.csv -o"; do
  run 2 $(echo "$words" | sed "s|NAMED|$work/named.ini|; s|SHORT|$work/short.csv|") "$work/drums.csv"; err "is an input"
done
run 2 vary "$work/named.ini" "$work/short.csv" "cable amplifier feed.size = 8 AWG, 4 AWG" -o "$work/drums.csv"; err "is an input"
cmp -s "$work/drums.csv" "$work/kept.csv" || complain "an envelope was written over"

# and that is found out before a run that takes minutes, not after it: names given on the command line, those in a system file, that of
# the system to compare with, those of a report
printf 'time_s,engine_rpm,programme\n0,800,drums\n9000000,800,drums\n' >"$work/years.csv"
printf '#!/bin/sh\nexec timeout 20 "%s" "$@"\n' "$tailvolt" >"$work/at-once"
chmod +x "$work/at-once"
whole=$tailvolt
tailvolt=$work/at-once
sed 's/drums\.csv/other.csv/' "$work/named.ini" >"$work/other.ini"
cp "$work/drums.csv" "$work/other.csv"
for words in "report SYSTEM YEARS -o SYSTEM" "report NAMED YEARS -o YEARS" "report NAMED YEARS -o DRUMS" \
  "report SYSTEM YEARS --compare NAMED -o NAMED" "report SYSTEM YEARS --compare OTHER.ini -o OTHER.csv" "simulate NAMED YEARS -o YEARS" \
  "simulate NAMED YEARS --record DRUMS" "remedy NAMED YEARS --write DRUMS" "compare NAMED YEARS -o DRUMS" "match NAMED YEARS --fit battery.charge \
  --write DRUMS"; do
  run 2 $(echo "$words" | sed "s|SYSTEM|$van/system.ini|; s|SYSTEM|$van/system.ini|; s|NAMED|$work/named.ini|; s|NAMED|$work/named.ini|
    s|YEARS|$work/years.csv|; s|YEARS|$work/years.csv|; s|DRUMS|$work/drums.csv|; s|OTHER|$work/other|; s|OTHER|$work/other|")
  err "is an input of this command"; silent_out
done
"$whole" simulate --spread 0 $van/system.ini "$work/short.csv" -f json -o "$work/job.json" -q
run 2 report --from "$work/job.json" -o "$work/job.json"; err "is an input"
tailvolt=$whole
cmp -s "$work/drums.csv" "$work/kept.csv" && cmp -s "$work/other.csv" "$work/kept.csv" || complain "an envelope was written over"

# a link is followed, even to a file that does not exist yet; a pipe is written to
ln -s behind.csv "$work/link.csv"
run 0 simulate --spread 0 $van/system.ini "$work/short.csv" -f csv -o "$work/link.csv"
[ -L "$work/link.csv" ] && [ -f "$work/behind.csv" ] || complain "the link was replaced, not followed"
"$tailvolt" simulate --spread 0 $van/system.ini "$work/short.csv" -f csv -o /dev/stdout | cmp -s - "$work/behind.csv" || complain "a pipe does not get the output"
finish
