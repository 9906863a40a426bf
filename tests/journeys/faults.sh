#!/bin/sh
# A fault names the file that holds it, with line and part, whichever command meets it.
. tests/journeys/support/expect.sh

printf 'time_s,engine_rpm\n0,800\n5,800\n' >"$work/p.csv"
printf 'time_s,engine_rpm,voltage_v:battery post\n0,800,14.1\n5,800,14.0\n' >"$work/log.csv"
car() { # FILE, further lines on standard input
  { printf '[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n'; cat; } >"$work/$1"
}
printf '[battery]\ncapacity = 70 Ah\ncold cranking = 60 A EN\nreserve = 400 min\n' | car label.ini
# a recording of silence: WAV, 8 kHz, 16 bits, one channel
{ printf 'RIFF\244\076\000\000WAVEfmt \020\000\000\000\001\000\001\000\100\037\000\000\200\076\000\000\002\000\020\000data\200\076\000\000'
  head -c 16000 /dev/zero; } >"$work/silent.wav"
printf '[battery]\ncapacity = 70 Ah\n[programme music]\nrecording = silent.wav\n' | car silent.ini
printf '[battery]\ncapacity = 70 Ah\n[isolator x]\nkind = relay\nfrom = battery post\nto = nowhere\n' | car isolator.ini

everywhere() { # FILE TEXT
  for command in "check $work/$1" "simulate $work/$1 $work/p.csv" "parked $work/$1" "remedy $work/$1 $work/p.csv" \
    "report $work/$1 $work/p.csv -o $work/page.html" "measure $work/$1" "compare $work/$1 $work/log.csv" "live $work/$1"; do
    run 2 $command </dev/null; err "$2"; messages_are_named
    grep -q "p\.csv" "$work/err" && complain "$asked: blames the profile: $(head -1 "$work/err")"
  done
}
everywhere label.ini "label.ini:11: battery.reserve: reserve 400 min and capacity 70 Ah cannot both hold"
everywhere silent.ini "silent.ini:11: programme music.recording: silent.wav: is silent throughout"
everywhere isolator.ini "isolator.ini:13:6: [isolator x] leads nowhere: no other part joins 'nowhere'"
run 2 simulate examples/reference/ten-line.ini "$work/p.csv" --set "battery.reserve = 400 min"; err "tailvolt: --set: battery"

# what takes the standard wiring away says so
run 0 check examples/van-800w-8awg/system.ini; out "  all wiring and loads are this file's"; silent_err
printf 'time_s,engine_rpm\n0,800\n2,800\n' >"$work/short.csv"
sed '/^wiring /d' examples/van-800w-8awg/system.ini >"$work/points.ini"
run 0 check "$work/points.ini"; out "[alternator] names its points, so all wiring and loads are this file's"
run 0 simulate "$work/points.ini" "$work/short.csv" --spread 0
err "tailvolt: note: $work/points.ini: [alternator] names its points, so nothing of the standard car is added"
run 0 simulate examples/van-800w-8awg/system.ini "$work/short.csv" --spread 0; silent_err
run 0 check examples/reference/ten-line.ini; grep -q "names its points" "$work/out" && complain "the standard car has wiring of its own"
# a run of hours is announced, with how long it takes
printf 'time_s,engine_rpm\n0,800\n400000,800\n' >"$work/days.csv"
timeout 1 "$tailvolt" simulate examples/reference/ten-line.ini "$work/days.csv" >/dev/null 2>"$work/err" || true
err "days.csv: 4.6 days of profile in steps of 1 ms: a run through it takes about 2.2 min"
# an evening parked is not run step by step, unless that is asked for
printf 'time_s,engine_rpm,level_db\n0,0,0\n400000,0,0\n' >"$work/parked.csv"
run 0 parked examples/reference/ten-line.ini "$work/parked.csv" --spread 0 --longest 2min; silent_err
timeout 0.5 "$tailvolt" parked examples/reference/ten-line.ini "$work/parked.csv" --full --longest 111h >/dev/null 2>"$work/err" || true
err "ten-line.ini: 4.6 days of playing, or less if it ends sooner, in steps of 1 ms: a run through it takes about 2.2 min"
# and so is a study that takes as long: short steps, many cars, many rows
announced() { # TEXT ARGUMENTS...
  wanted=$1
  shift
  asked="tailvolt $*"
  timeout -k 5 1 "$tailvolt" "$@" >/dev/null 2>"$work/err" || true
  err "$wanted"
}
car=examples/reference/ten-line.ini
announced "ten-line.ini: 20 min of standard profiles in steps of 0.001 ms: a run through it takes" simulate $car --time-step 0.001ms
announced "of standard profiles in steps of 0.001 ms" report $car --time-step 0.001ms -o "$work/page.html"
announced "of playing, in pieces, in steps of 0.001 ms" parked $car --time-step 0.001ms
announced "of driving, in 1000000 such cars, in steps of 1 ms" simulate $car "$work/short.csv" --spread 1000000
announced "of driving, in 1000000 such cars, in steps of 1 ms" report $car "$work/short.csv" --spread 1000000 -o "$work/page.html"
announced "days.csv: 9.3 days of profile, in 2 rows, in steps of 1 ms" vary $car "$work/days.csv" "cable feed.length = 1 m, 2 m"
announced "short.csv: 2.3 days of profile, in 1 row," vary $car "$work/short.csv" "cable feed.length = 1 m" --spread 100000
run 0 simulate $car --spread 8; silent_err

# what is read more than once cannot be a pipe, and an endless device is no file: said at once, before opening it waits for ever
mkfifo "$work/pipe"
refused() { # TEXT ARGUMENTS...
  wanted=$1
  shift
  asked="tailvolt $*"
  code=0
  timeout -k 1 10 "$tailvolt" "$@" >"$work/out" 2>"$work/err" </dev/null || code=$?
  [ $code -eq 2 ] || complain "$asked: exit code $code, wanted 2"
  err "$wanted"; silent_out; messages_are_named
}
car=examples/reference/ten-line.ini
for key in recording envelope style; do
  refused "programme music.$key: $work/pipe: is a pipe: give it as a file, it is read more than once" simulate --spread 0 $car "$work/p.csv" \
    --set "programme music.$key = $work/pipe"
done
refused "programme music.recording: $work/pipe: is a pipe" check $car --set "programme music.recording = $work/pipe"
refused "$work/pipe: is a pipe: give it as a file" plot "$work/pipe"
refused "$work/pipe: is a pipe: give it as a file" vary "$work/pipe" "$work/p.csv" "cable feed.length = 1 m, 2 m"
refused "$work/pipe: is a pipe: give it as a file" vary $car "$work/pipe" "cable feed.length = 1 m, 2 m"
if [ -c /dev/zero ]; then
  for command in "simulate $car" simulate "compare $car" envelope plot drive check "measure $car --readings" "remedy $car $work/p.csv --prices" \
    "remedy $car $work/p.csv --catalogue" "simulate --from"; do
    refused "/dev/zero: " $command /dev/zero; err "is a device, not a file"
  done
fi
# a pipe is read where once is enough
code=0
timeout 30 sh -c "cat $work/p.csv >$work/pipe" &
asked="a profile from a pipe"
timeout -k 1 20 "$tailvolt" simulate --spread 0 $car "$work/pipe" >"$work/out" 2>"$work/err" || code=$?
[ $code -lt 2 ] || complain "$asked: exit code $code"
out "at idle"

finish
