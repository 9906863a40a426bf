#!/bin/sh
# What to measure, the numbers by a pipe or from a file, what they say, and what is kept.
. tests/journeys/support/expect.sh

car=examples/reference/ten-line.ini

# the plan: each reading with its place, what is normal and what it means outside; cautions first
run 0 measure $car </dev/null; silent_err
out "SURE    "; out "such cars hold"; out "MEASURE "; out "Never disconnect"; out "orange cable"; out "Zero the clamp"; out "burns"; out "--tone"
out "ENGINE OFF, a tone"; out "everything on"; out "red on battery post, black on ground"; out "clamp around the feed cable"
out "shows "; out "normal from"; out "above: "; out "below: "
awk 'length($0) > 80 { print; bad = 1 } END { exit bad }' "$work/out" || complain "lines of more than 80 columns"
readings=$(grep -c 'in a file: ' "$work/out")

# the same as a table, to be filled in and read back
run 0 measure $car --spread 0 --format csv -o "$work/plan.csv" </dev/null; silent_err
[ "$(wc -l <"$work/plan.csv")" -eq $((readings + 1)) ] || complain "the table has not one row a reading"
run 2 measure $car --readings "$work/plan.csv"; err "holds no reading with a value"
awk -F, 'BEGIN { OFS = "," } NR > 1 { $2 = $3 " " $6 } { print }' "$work/plan.csv" >"$work/filled.csv"
run 0 measure $car --spread 0 --readings "$work/filled.csv"; silent_err; out "READ    $readings readings"; out "LEARNED"

# as JSON: the plan, and what readings say
run 0 measure $car --spread 0 --format json </dev/null; silent_err
[ "$(grep -c '"worth_pct": ' "$work/out")" -eq "$readings" ] || complain "not as many readings as JSON"
out '"certainty": null'
run 0 measure $car --spread 8 --format json --readings "$work/filled.csv"; silent_err
out '"learned": ['; out '"fitted": '; out '"holds_low_pct": '; out '"certainty_after": '

cat >"$work/readings.csv" <<'END'
reading,value,who
# taken in the yard
rest: battery post > ground,"12,48 V",fitter
tone off: clamp feed,22.1 A,fitter
tone off: body stud > body shell rear,-26.5 mV,fitter
tone off: battery post > fuse in,6.6 V,fitter
lights: clamp charge lead,38 A,fitter
idle: battery post > ground,,not read
END
run 0 measure $car --spread 16 --readings "$work/readings.csv" --write "$work/measured.ini" --date 2026-11-29; silent_err
out "probes swapped; taken"; out "mV meant?"; out "BAD     body stud joint: 1.20 mohm"; out "0.30 is usual"
out "vehicle.base load"; out "SURE    before: "; out "        after: "
grep -q "^resistance = 1\.[12].* mohm measured  # measured 2026-11-29" "$work/measured.ini" || complain "the stud is not in the file"
run 0 check "$work/measured.ini"; silent_err; out "joint body stud"
run 0 measure "$work/measured.ini" --spread 0 </dev/null; silent_err; out "MEASURE "

# readings that do not go round the loop
cat >"$work/loop.csv" <<'END'
reading,value
tone off: clamp feed,22.1 A
tone off: battery post > ground,12.30 V
tone off: amplifier plus > amplifier minus,11.85 V
tone off: battery post > amplifier plus,0.730 V
tone off: amplifier minus > ground,0.116 V
END
run 0 measure $car --spread 0 --readings "$work/loop.csv"; out "they cannot all hold"; out "is left out: read it again"

# of two nobody knows which is wrong
printf 'reading,value\nlights: battery post > ground,12.48 V\nlights: charge lead start > charge lead end,6.1 mV\n' >"$work/both.csv"
run 0 measure $car --spread 0 --readings "$work/both.csv"; out "READ    2 readings; they cannot all hold (chi-square "
grep -q "is left out" "$work/out" && complain "$asked: one of two is left out"

# the same file by a pipe, opened by its name or as standard input
run 0 measure $car --spread 0 --readings "$work/loop.csv"; mv "$work/out" "$work/by_name"
mkfifo "$work/pipe"; cat "$work/loop.csv" >"$work/pipe" &
run 0 measure $car --spread 0 --readings "$work/pipe"; cmp -s "$work/out" "$work/by_name" || complain "a pipe reads otherwise"
{ printf '\357\273\277'; cat "$work/loop.csv"; } >"$work/marked.csv"
run 0 measure $car --spread 0 --readings "$work/marked.csv"; cmp -s "$work/out" "$work/by_name" || complain "a byte-order mark is read"
run 0 measure $car --spread 0 --readings - <"$work/loop.csv"; cmp -s "$work/out" "$work/by_name" || complain "- reads otherwise"

# by a pipe: one a line, a bare number in the unit of the plan, an empty line is not read
printf '21.8\n\n' >"$work/typed"
run 0 measure $car --spread 0 <"$work/typed"; silent_err; out "READ    1 reading"
printf '21.8\n0.31\n13.5\n0.045\n' >"$work/typed"
run 0 measure $car --spread 0 <"$work/typed"; silent_err; out "READ    4 readings"; out "vehicle.base load"
printf '21.8 V\n' >"$work/typed"
run 2 measure $car <"$work/typed"; err "reading 1: "

# at a terminal: what the speakers bear is asked first, and a reading again after a wrong answer
if command -v script >/dev/null 2>&1; then
  printf '50\n12,48\nmany\n6.1\n\n' >"$work/typed"
  script -qec "$tailvolt measure $car --spread 0 --most 6" /dev/null <"$work/typed" >"$work/out" 2>"$work/err" || complain "measure at a terminal failed"
  asked="measure at a terminal"
  out "bear continuously, in watts?"; out "bass puts out 50 W"; out "reading 2: not understood: 'many'"; out "READ    2 readings"
  [ "$(grep -c ' 2  tone off: clamp feed, in A > ' "$work/out")" -ge 1 ] || complain "$asked: the second reading is not asked for"
  printf 'fifty\n' >"$work/typed"
  script -qec "$tailvolt measure $car --spread 0 --most 4" /dev/null <"$work/typed" >"$work/out" 2>"$work/err" || complain "measure at a terminal failed"
  out "'fifty' is no power; planned for a dummy load"; out "TONE "
fi

# what is wrong, all at once
printf 'reading,value\nnoon: battery post > ground,12 V\nrest: battery pots > ground,12 V\nrest: battery post > ground,12\n' >"$work/wrong.csv"
run 2 measure $car --readings "$work/wrong.csv"; silent_out; messages_are_named
err "wrong.csv:2:1: "; err "wrong.csv:3:1: "; err "wrong.csv:4:2: "; err "no unit in"
printf 'point,volts\na,1\n' >"$work/wrong.csv"
run 2 measure $car --readings "$work/wrong.csv"; err "columns reading and value"
run 2 measure $car --readings "$work/none.csv"; err "none.csv"
run 2 measure $car --write "$work/nothing.ini" </dev/null; err "nothing was learned"
[ ! -e "$work/nothing.ini" ] || complain "a file without readings"
cp "$work/readings.csv" "$work/kept.csv"
run 2 measure $car --readings "$work/kept.csv" --write "$work/kept.csv"; err "is an input"
run 2 measure $car --date yesterday </dev/null; err "2026-11-29"
run 2 measure $car --amplifier tops </dev/null; err "no such amplifier"
run 2 measure $car --tone 50 </dev/null; err "--tone 50"
run 2 measure; err "needs SYSTEM"

# a hybrid is ready, not running; a quieter tone is planned for weaker speakers
run 0 measure examples/hybrid/system.ini --spread 0 --tone 50W --most 4 </dev/null; silent_err; out "50 W"
[ "$(grep -c 'in a file: ' "$work/out")" -le 4 ] || complain "more readings than asked for"

finish
