#!/bin/sh
# A hybrid through every command: orange cable first, a converter in place of the alternator, a 12 V side that boots.
cd "$(dirname "$0")/../.." || exit 1
. tests/journeys/support/expect.sh
car=examples/hybrid/system.ini

lacks() { if grep -qiE -e "$1" "$work/out"; then complain "$asked: output says: $(grep -iE -e "$1" "$work/out" | head -1)"; fi; }
# the first caution under a heading
first() {
  sed -n "/^$1/{n;p;q;}" "$work/out" | grep -q 'orange cable' || complain "$asked: orange cable is not first under $1"
}

# the engine runs for part of the time the car is ready: the converter does not care
cat >"$work/ready.csv" <<'END'
time_s,engine_rpm,ready,programme
0,0,1,music
10,1500,1,music
20,0,1,music
30,0,0,music
40,0,0,music
END
run 0 simulate --spread 0 --details $car "$work/ready.csv"
out 'converter: mean'
out 'BATTERIES AND CONVERTER'
first CAUTIONS
grep -q '^SAFETY *hybrid: do not touch orange cable; ' "$work/out" || complain "$asked: SAFETY does not begin with orange cable"
lacks 'from the engine|alternator|shaft'
out 'idle'
out 'parked'
out 'road'

run 0 simulate --spread 0 -f json $car "$work/ready.csv"
out '"by_converter": true'
out '"mean_shaft_w": null'
out '"mean_torque_nm": null'

run 0 report --quick --date x $car "$work/ready.csv"
# the system file itself stands at the end, comments and all
sed -i '/ id="made-from">/d' "$work/out"
lacks 'alternator'
out '>converter<'

run 0 parked --spread 0 $car
out 'still switches on'
out '30 A to boot computers'
out 'switched on (charged whenever the car is ready)'
first 'SAFETY AND CAUTIONS'
grep -q '^SAFETY *hybrid: do not touch orange cable' "$work/out" || complain "$asked: SAFETY does not begin with orange cable"
lacks 'cranks|while cranking|starter turns|(h|min) at idle|in town|alternator'

# 2 kW, more than the converter's limit: no remedy fits another alternator or raises an idle
run 0 remedy --settle 2s --parts 1 $car "$work/ready.csv" --set "amplifier bass.rated power = 2000 W" \
  --set "converter.rated current = 50 A"
lacks 'bigger alternator|[0-9] A alternator|raised idle|idle speed of'

# one start of 30 A for 5 s: kept apart from what the music does
cat >"$work/start.csv" <<'END'
time_s,engine_rpm,ready,programme
0,0,0,music
10,0,1,music
40,0,1,music
END
run 0 simulate --spread 0 $car "$work/start.csv" --set "engine.simulate starts = yes"
out 'while the engine is started'

# nothing cranks, so nothing about cranking is assumed
run 0 check $car; out 'engine.start needs = 30 A for 5 s'
lacks 'engine\.cranking|engine\.breakaway|engine\.size'
finish
