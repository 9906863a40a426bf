#!/bin/sh
# Ten questions, answered by a pipe: the file, its run, and what is refused.
. tests/journeys/support/expect.sh

cat >"$work/answers" <<'END'
plain
bass 300 W, 2 x 20 A; tops 4 x 30 W, 15 A
110
70 Ah, 640 A EN, AGM, boot
8 AWG, 5,5 m, clad
seat bolt, 0.8 m
halogen
daily
2
dim; flat
END

# through a pipe: no prompt, the file is written, and run as by simulate
run 0 new -o "$work/job.ini" <"$work/answers"; silent_err
out "TODAY   Lights dim"; out "THEN    tailvolt check $work/job.ini"; out "2 h wanted: plays"
cp "$work/out" "$work/whole"
run 0 check "$work/job.ini"; silent_err; out "clad aluminium"
run 0 simulate "$work/job.ini"; silent_err
lines=$(wc -l <"$work/out")
head -n "$lines" "$work/whole" | cmp -s - "$work/out" || complain "new and simulate print different runs"
if grep -q "$(printf '\033')" "$work/whole"; then complain "colour by a pipe"; fi

# nothing known: to standard output, complete and valid, with its run as a comment; fewer lines than questions are fine
run 0 new </dev/null; silent_err; out "not known; usual: 45 to 80 Ah"; out "# What a run of it says:"; out "# WHY "
cp "$work/out" "$work/unknown.ini"
run 0 check "$work/unknown.ini"; silent_err; out "500 W"
# line ends as on other systems, none after the last
printf 'plain\r\n400 W' >"$work/short"

# an existing file stays, unless --force is given
run 4 new -o "$work/job.ini" <"$work/answers"; silent_out; err "already exists"
run 0 new -o "$work/job.ini" --force <"$work/short"; silent_err
run 0 check "$work/job.ini"; out "400 W"; grep -q "# a plain alternator" "$work/job.ini" || complain "the first line was not read"
run 4 new -o "$work/none/job.ini" <"$work/answers"; silent_out; err "cannot write"

# all faults at once, each with its question's number; nothing is written
printf 'dynamo\n1000 W max\n110\n70 Ah, 640 A\n8, 5.5\nbody\nLED\nshow\n2 days\nnothing\n' >"$work/wrong"
run 2 new -o "$work/wrong.ini" <"$work/wrong"; silent_out; messages_are_named
err "answers:1: 'dynamo'"; err "answers:2: 'max' power"; err "answers:4: '640 A' by which test?"
err "answers:5: no unit in '8'"; err "answers:9: "
[ ! -e "$work/wrong.ini" ] || complain "a file was written for wrong answers"

run 0 new --questions; silent_err; out " 1  What charges it: plain alternator, computer-controlled, hybrid?"
out "10  What is wrong today"; out "Don't know: 500 W"
[ "$(grep -c 'for example:' "$work/out")" -eq 10 ] || complain "not ten questions"
awk 'length($0) > 80 { print; bad = 1 } END { exit bad }' "$work/out" || complain "lines of more than 80 columns"
run 2 new one.ini; err "takes no operand"

# at a terminal every question is asked once, and again after a wrong answer
if command -v script >/dev/null 2>&1; then
  printf 'plain\n800 max\n400 W\n\n\n\n\n\n\n\n\n' >"$work/typed"
  script -qec "$tailvolt new -o $work/typed.ini" /dev/null <"$work/typed" >"$work/out" 2>"$work/err" || complain "new at a terminal failed"
  for words in "What charges it" "watts of each" "What is wrong today"; do
    [ "$(grep -c "$words" "$work/out")" -eq 1 ] || complain "asked not once: $words"
  done
  grep -q "'max' power is no guide" "$work/out" || complain "a wrong answer was not refused at the terminal"
  grep -q "rated power = 400 W" "$work/typed.ini" || complain "the second answer was not taken"
fi

finish
