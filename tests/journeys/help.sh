#!/bin/sh
# Help, version, manual page and completions; wrong usage.
. tests/journeys/support/expect.sh

for words in "help" "--help" "-h" "help help"; do
  run 0 $words; out "usage: tailvolt COMMAND"; out "simulate"; silent_err
done
run 0 --version; out "tailvolt 0.1.0"; out "GPL-3.0-or-later"; out "jansson"; silent_err
[ "$(head -1 "$work/out")" = "tailvolt 0.1.0" ] || complain "the version is not on a line of its own"
run 0 --version nonsense --more; silent_err

# every command in the overview has help, both ways of asking give the same
"$tailvolt" help | sed -n '/^commands:/,/^ *help /s/^  \([a-z]*\) .*/\1/p' | grep -v help >"$work/commands"
[ -s "$work/commands" ] || complain "no command in the overview"
while read -r command; do
  run 0 help "$command"; out "usage: tailvolt $command"; out "--quiet"; silent_err
  cp "$work/out" "$work/help"
  run 0 "$command" --help; cmp -s "$work/out" "$work/help" || complain "$command --help differs from help $command"
done <"$work/commands"

run 0 help --man; out ".TH TAILVOLT 1"; out "EXIT STATUS"; out '\-\-record'
if command -v man >/dev/null 2>&1 && command -v groff >/dev/null 2>&1; then
  groff -man -Tascii -ww "$work/out" >/dev/null 2>"$work/roff" && [ ! -s "$work/roff" ] ||
    complain "the manual page is not sound: $(head -2 "$work/roff")"
fi
run 0 help --completion bash; out "complete -o default -F _tailvolt tailvolt"
if command -v bash >/dev/null 2>&1; then
  found=$(bash -c '. "$1"; COMP_WORDS=(tailvolt simulate --rec); COMP_CWORD=2; _tailvolt; echo "${COMPREPLY[@]}"' - "$work/out")
  [ "$found" = "--record --record-every" ] || complain "bash completes --rec to: $found"
  found=$(bash -c '. "$1"; COMP_WORDS=(tailvolt help sim); COMP_CWORD=2; _tailvolt; echo "${COMPREPLY[@]}"' - "$work/out")
  [ "$found" = simulate ] || complain "bash completes help sim to: $found"
fi
run 0 help --completion fish; out "complete -c tailvolt"
run 0 help --completion zsh; out "#compdef tailvolt"
run 2 help --completion csh; err "bash, zsh or fish"

# wrong usage: nothing on standard output, one line and where to look
run 2; err "no command is given"; silent_out; messages_are_named
run 2 simulat; err "did you mean simulate?"; silent_out
run 2 qwertyuiop; err "there is no command \`qwertyuiop\`"
run 2 --quiet simulate; err "a command comes first"
run 2 simulate; err "simulate needs SYSTEM"; err "try \`tailvolt help simulate\`"; silent_out; messages_are_named
run 2 simulate --tme-step 1ms x.ini; err "did you mean --time-step?"
run 2 simulate x.ini -o a -o b; err "--output is given twice"
run 2 simulate x.ini --output; err "--output needs a value"
run 2 simulate x.ini --strict=yes; err "--strict takes no value"
run 2 simulate x.ini --format yaml; err "choices are text, json, csv"
run 2 simulate x.ini --format jsn; err "did you mean json?"
run 2 simulate x.ini --color sometimes; err "choices are auto, always, never"
run 2 simulate x.ini --time-step 1; err "--time-step 1: which unit? write 1ms, 1s, 1min or 1h"
run 2 simulate x.ini --time-step 1us; err "unknown unit \`us\`"
run 2 simulate x.ini --time-step fast; err "not a time"
run 2 simulate x.ini --time-step 2s; err "must be between"
run 2 simulate x.ini --seed 1.5; err "whole number"
run 2 simulate x.ini --record-every 1s; err "--record-every needs --record FILE"
run 2 simulate x.ini --record r.csv; err "exactly one profile"
run 2 simulate -z x.ini; err "does not know the option -z"
finish
