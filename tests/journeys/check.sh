#!/bin/sh
# Checking files: what was understood, and every fault at once.
. tests/journeys/support/expect.sh

van=examples/van-800w-8awg
run 0 check $van/system.ini $van/profile.csv; silent_err; out "amplifier bass"; out "cable amplifier feed"; out "rows"
run 0 check examples/reference/ten-line.ini; silent_err; out "wired as the standard car"; out '--set "'
# the picture: what charges, what is drawn, where the current goes
out "110 A at 6000 rpm of its rotor, 55 A at 1800 rpm"; out "630 A EN cold cranking; 85 % charged"
out "35 A while the engine runs"; out "FEED PATH of bass, there and back: 18.9 mohm at 20 C"; out "feed cable"
run 0 check examples/reference/ten-line.ini --format json; out '"faults": []'; out '"key": "alternator.set point"'

run 0 check examples/reference/all-of-it.ini --explain; silent_err; out "cold cranking"; out "battery starter"
run 2 check examples/reference/ten-line.ini --set "battery.cold cranking = 5000 A EN"; err "battery"; silent_out

# every --set that check offers is accepted
"$tailvolt" check examples/reference/ten-line.ini | grep -o -e '--set "[^"]*"' | sed 's/^--set "\(.*\)"$/\1/' >"$work/settings"
listed=$(wc -l <"$work/settings")
counted=$("$tailvolt" check examples/reference/ten-line.ini --format json | grep -c '"key": ')
[ "$listed" -gt 9 ] && [ "$listed" -eq "$counted" ] || complain "$listed assumptions listed of $counted"
# what matters first
first=$(head -n 1 "$work/settings")
[ "$first" = "battery.state of charge = 85 %" ] || complain "the list of assumptions starts with: $first"
while read -r setting; do
  run 0 check examples/reference/ten-line.ini --set "$setting"; silent_err
done <"$work/settings"

# the car that the short forms make: points to join, what was chosen, what starts it, American units as written
run 0 check examples/second-battery/relay.ini; silent_err
out "starts the car"; out "POINTS that meters"; out "second post"; out "100 A, assumed"
run 0 check examples/one-feed/system.ini; out "(chosen)"
run 0 check --units us examples/hybrid/system.ini; out "about 4 AWG, 3.3 ft"; out "vehicle.ambient = 77 F"
run 0 check examples/smart-hatchback/system.ini; out "from 12.4 to 14.8 V"
run 0 check examples/reference/ten-line.ini --set "battery.rested voltage = 12.5 V measured"; out "battery.rested voltage"

# readable is not safe: a fuse too big for its cable, in the words of `parked`, whatever the exit code says
run 0 check examples/reference/ten-line.ini --set "fuse main.rating = 150 A" --set "fuse main.distance = 80 cm"; silent_err
out "SAFETY AND CAUTIONS, from the wiring alone"; out "fuse main 150 A too big for 8 AWG"
sed -n '/^SAFETY AND/,/^$/p' "$work/out" >"$work/checked"
run 0 parked examples/reference/ten-line.ini --spread 0 --set "fuse main.rating = 150 A" --set "fuse main.distance = 80 cm"
sed -n '/^SAFETY AND/,/^$/p' "$work/out" | cmp -s - "$work/checked" || complain "check and parked differ about safety"
run 0 check examples/reference/ten-line.ini --set "fuse main.rating = 150 A" --format json
out '"status": "fails"'; out "fuse main 150 A too big for 8 AWG"

cat >"$work/bad.ini" <<'END'
[battery]
capacity = 70
colour = red
[alternator]
rated current = 110 A
[amplifier bass]
rated power = 800 W
[cable feed]
size = 8
length = 5,5 m
END
run 2 check "$work/bad.ini"; silent_out; messages_are_named
err "$work/bad.ini:2:12: "; err "$work/bad.ini:3:1: "; err "$work/bad.ini:9:8: "; err "$work/bad.ini:10:10: "
run 2 check "$work/bad.ini" --format json; silent_err; out '"line": 9'; out '"message"'
run 2 simulate "$work/bad.ini"; silent_out; err "$work/bad.ini:9:8: "
# key and value once: a message that quotes them needs no prefix
err "$work/bad.ini:2:12: no unit in 'capacity = 70'; accepted: Ah"; err "$work/bad.ini:3:1: unknown key 'colour' in [battery]"
cat >"$work/rises.ini" <<'END'
[battery]
capacity = 70 Ah
[alternator]
rated current = 110 A
low current = 120 A
[amplifier bass]
rated power = 800 W
[cable feed]
size = 8 AWG
length = 5.5 m
END
run 2 check "$work/rises.ini"; err "$work/rises.ini:5:15: alternator.low current = 120 A: the output must rise"
run 2 check $van/system.ini --set "alternator.rated current = 150"; err "--set: alternator: no unit in 'rated current = 150'"
run 2 check $van/system.ini $van/profile.csv --set "cable amplifer feed.size = 4 AWG"
err "--set: there is no [cable amplifer feed]; did you mean 'cable amplifier feed'?"
run 2 simulate $van/profile.csv $van/system.ini; err "$van/profile.csv: is a load profile; the system file comes first"
run 2 simulate $van/system.ini $van/system.ini; err "$van/system.ini: is a system file, not a profile"

# a profile beside a system, and alone against the standard names
printf 'time_s,engine_rpm,output_w:bas\n0,800,0\n1,x,0\n' >"$work/bad.csv"
run 2 check $van/system.ini "$work/bad.csv"; err "$work/bad.csv:1:3: "
printf 'time_s,engine_rpm\n0,800\n1,x\n' >"$work/bad.csv"
run 2 check "$work/bad.csv"; err "$work/bad.csv:3:2: "
printf 'time_s,engine_rpm,output_w:bass\n0,800,0\n1,800,0\n' >"$work/good.csv"
run 0 check "$work/good.csv"; silent_err; out "for the standard car"
# nothing is said of a car that nobody asked about
run 0 check "$work/good.csv" --format json; silent_err; out '"safety": []'; out '"assumed": []'
run 0 check $van/profile.csv $van/system.ini; silent_err; out "$van/profile.csv: 5 rows, 5.3 min from"
out "for"; out "at idle 3.2 min, on the road 2.1 min; engine at 800 to 2300 rpm; air of 25 C"; out "plays for 5.2 min, level 0 dB"
run 2 check nowhere.ini; err "nowhere.ini"
run 2 check "$work/bad.ini" nowhere.ini; err "bad.ini:2:12: "; err "nowhere.ini"
run 2 check; err "check needs FILES"

# clipped music is possible, and reported
run 0 check $van/system.ini --set "programme drums.crest factor = 2 dB"; err "warning: "; err "crest factor of 2 dB"
run 0 check $van/system.ini --quiet --set "programme drums.crest factor = 2 dB"; silent_err
run 0 check $van/system.ini --set "programme drums.crest factor = 3.01 dB"; silent_err

# control characters in names never reach the terminal
printf '[batt\033[31mery]\ncapacity = 70 Ah\n' >"$work/escape.ini"
run 2 check "$work/escape.ini"
if LC_ALL=C grep -q "$(printf '\033')" "$work/err"; then complain "a control character reached the messages"; fi
# nothing understood: nothing written, and what was there stays
printf '[battery]\ncapacity = 70 A\n' >"$work/bad.ini"
echo kept >"$work/understood.txt"
run 2 check "$work/bad.ini" -o "$work/understood.txt"; err "accepted: Ah"
[ "$(cat "$work/understood.txt")" = kept ] || complain "check wrote over a file with nothing to say"
run 2 check "$work/bad.ini" -o "$work/none.txt"
[ ! -e "$work/none.txt" ] || complain "check made an empty file"
finish
