#!/bin/sh
# The page to hand over: self-contained in one file, complete, and checked in a browser where there is one.
. tests/journeys/support/expect.sh

van=examples/van-800w-8awg
run 0 check $van/system.ini -f json
assumed=$(sed -n '/"assumed"/,/^  \]/p' "$work/out" | grep -c '"key"')
[ "$assumed" -gt 20 ] || complain "check lists only $assumed assumed values"
printf 'time_s,engine_rpm,programme\n0,800,silence\n1,800,drums\n6,800,drums\n7,2300,drums\n10,2300,drums\n' >"$work/short.csv"

run 0 report $van/system.ini "$work/short.csv" --quick --note "Stage <3> & \"bus\"" --date "1 May 2030" -o "$work/van.html"; silent_err; silent_out
cp "$work/van.html" "$work/out"
out "<!DOCTYPE html>"; out "Can the charging system of Puppet theatre van carry bass (800 W)?"; out "FAILS"
out "The feed path"; out "sag ledger"; out "What to change"; out "What this takes for granted"; out "<h2>Cautions</h2>"; out "For the workshop"; out "Cables and fuses"; out "Measure at the car"
out "Safety: FAILS: fuse main 80 A too big"; out "are assumed, above all "
out "Assumed: $assumed values"; out "Cautions"; out "When fitting"; out "1 May 2030"; out "Stage &lt;3&gt; &amp; &quot;bus&quot;"; out "</html>"
[ "$(wc -c <"$work/van.html")" -lt 1000000 ] || complain "the page is over 1 MB"
[ "$(grep -c '<svg ' "$work/van.html")" -ge 3 ] || complain "pictures are missing"
# but for one block of data, which no browser runs
[ "$(grep -c '^<script type="application/json" id="made-from">{' "$work/van.html")" -eq 1 ] || complain "it does not say what it was made from"
if grep -v '^<script type="application/json" id="made-from">{[^<>&]*}</script>$' "$work/van.html" |
  grep -oE '(src|href)=|https?:|<script|<link|<iframe|<img|@import|url\(| on[a-z]+="'; then
  complain "the page refers to something outside itself, or runs something"
fi
# the same page twice
run 0 report $van/system.ini "$work/short.csv" --quick --note "Stage <3> & \"bus\"" --date "1 May 2030"
cmp -s "$work/out" "$work/van.html" || complain "the same run makes another page"

# the figures are those of simulate
run 0 simulate --spread 0 $van/system.ini "$work/short.csv" -f csv
lowest=$(awk -F, 'NR == 2 { printf "%.2f", $6 }' "$work/out")
grep -q "lowest $lowest V at" "$work/van.html" || complain "the page does not say the lowest voltage, $lowest V"

# with the remedy searched for, where nothing is missing, without a profile, with a car of many assumptions
printf 'time_s,engine_rpm,programme\n0,800,drums\n2,800,drums\n' >"$work/tiny.csv"
run 0 report $van/system.ini "$work/tiny.csv" --spread 0 -o "$work/remedy.html"; silent_err
cp "$work/remedy.html" "$work/out"; out "gain V"; out "h of work"
run 0 report examples/van-put-right/system.ini examples/van-put-right/profile.csv --spread 16 --time-step 2ms -o "$work/right.html"; silent_err
cp "$work/right.html" "$work/out"; out "Nothing needs changing"
run 0 report examples/reference/ten-line.ini --quick --units us -o "$work/two.html"; silent_err
cp "$work/two.html" "$work/out"; out "<strong>Also: </strong>"; out "limit F"

# before and after, the evening parked, prices
run 0 report $van/system.ini "$work/tiny.csv" --quick --set "targets.parked = 2 h" --compare examples/van-put-right/system.ini -o "$work/compare.html"; silent_err
cp "$work/compare.html" "$work/out"
out "Before and after"; out "cable amplifier feed: 8 AWG, 5.5 m before, 4 AWG, 5.5 m after"; out "alternator: 110 A before, 180 A after"
out "Playing parked, engine off"; out "(wanted 2 h)"; out " parked: plays "; out "The evening: charge of the battery"
run 0 simulate --spread 0 examples/van-put-right/system.ini "$work/tiny.csv" -f csv
after=$(awk -F, 'NR == 2 { printf "%.2f", $6 }' "$work/out")
grep -q "<td>holds</td><td class=\"n\">$after</td>" "$work/compare.html" || complain "after: not $after V as simulate says"
# parts are told apart by their names, wherever they stand; those of one car alone
parts='[battery]
capacity = 70 Ah
[alternator]
rated current = 110 A
[cable feed]
size = 4 AWG
length = 5 m'
printf '%s\n[amplifier bass]\nrated power = 300 W\n[amplifier tops]\nrated power = 100 W\n' "$parts" >"$work/old.ini"
printf '%s\n[capacitor stiffener]\ncapacitance = 1 F\n[amplifier sub]\nrated power = 500 W\n[amplifier bass]\nrated power = 300 W\n' "$parts" >"$work/new.ini"
printf 'time_s,engine_rpm,programme\n0,800,music\n2,800,music\n' >"$work/either.csv"
run 0 report "$work/old.ini" "$work/either.csv" --quick --compare "$work/new.ini"; silent_err
out "amplifier tops: 100 W before, none after"; out "amplifier sub: none before, 500 W after"
out "capacitor stiffener: none before, 1 F after"
grep -q "amplifier bass: .* before, \|<li>battery.* before, \|<li>alternator.* before, " "$work/out" && complain "$asked: what is the same is said to differ"
for name in bass tops sub; do
  [ "$(grep -c "<tr><td>either.csv</td><td>$name</td>" "$work/out")" -eq 1 ] || complain "$asked: not one row of amplifier $name"
done
run 0 report "$work/old.ini" "$work/either.csv" --quick --compare "$work/old.ini"; out "No part differs in size or rating."

run 2 report $van/system.ini "$work/tiny.csv" --quick --compare nowhere.ini; err "nowhere.ini"; silent_out

# names that would break out of the text
cat >"$work/names.ini" <<'END'
[vehicle]
name = <b>&"'</title><script>alert(1)</script>
[battery]
capacity = 70 Ah
[alternator]
rated current = 110 A
[amplifier <i>loud]
rated power = 500 W
[cable feed]
size = 8 AWG
length = 5 m
END
printf 'time_s,engine_rpm\n0,800\n2,800\n' >"$work/plain.csv"
run 0 report "$work/names.ini" "$work/plain.csv" --quick -o "$work/names.html"; silent_err
if sed '/ id="made-from">/d' "$work/names.html" | grep -qiE '<(script|b>&|i>loud)'; then complain "a name reaches the page as markup"; fi

run 2 report $van/system.ini nowhere.csv; err "nowhere.csv"; silent_out
run 1 report $van/system.ini "$work/tiny.csv" --quick --strict -o "$work/strict.html"
run 4 report $van/system.ini "$work/tiny.csv" --quick -o "$work/no/such/page.html"

if command -v tidy >/dev/null 2>&1; then
  for page in van remedy right two names compare; do
    tidy -q -e "$work/$page.html" >"$work/tidy" 2>&1 || complain "$page.html is not valid: $(head -3 "$work/tidy")"
  done
fi
looked=no
for page in van remedy right two names compare; do
  code=0
  # the customer's page and the workshop's; everything tried takes a third
  case $page in remedy) sheets=3 ;; *) sheets=2 ;; esac
  sh tests/pages/check.sh "$work/$page.html" $sheets >"$work/looked" 2>&1 || code=$?
  if [ $code -eq 77 ]; then
    [ "$faults" -eq 0 ] || exit 1
    cat "$work/looked"
    exit 77
  fi
  [ $code -eq 0 ] || complain "$page.html: $(cat "$work/looked")"
  looked=yes
done
[ $looked = yes ] || complain "no page was looked at"
finish
