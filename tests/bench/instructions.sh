#!/bin/sh
# instructions.sh PROGRAM [update]: instructions per step of three short runs, counted by callgrind, against
# tests/bench/instructions.txt. Time on a shared machine says little; instructions are the same on each run.
#
# PROGRAM is bench_instructions of a gcc release build. A count depends on compiler and C library, so the file is
# keyed by both; without an entry for this pair the counts are printed and the test is skipped (77). A count that is
# 3 % above its entry fails; one that is 3 % below fails too, and says to renew the entry: `update` writes it.
set -u
cd "$(dirname "$0")/../.."
program=$1
file=tests/bench/instructions.txt
command -v valgrind >/dev/null 2>&1 || { echo "skipped: no valgrind"; exit 77; }
[ -x "$program" ] || { echo "skipped: no $program"; exit 77; }
key=$("$program" key) || { echo "skipped: $key"; exit 77; }

# the C library picks functions by processor features: the plainest ones exist everywhere
export GLIBC_TUNABLES=glibc.cpu.hwcaps=-AVX2,-AVX2_Usable,-FMA,-FMA_Usable,-AVX512F,-ERMS

# The difference between a longer and a shorter run removes the cost of starting and ending.
# Each run makes the profiles of both, so those fall out too.
count() { # RUN SECONDS OTHER: instructions and steps
  valgrind --tool=callgrind --callgrind-out-file=/dev/null "$program" "$1" "$2" "$3" 2>&1 |
    awk '/^steps/ { steps = $2 } /Collected/ { print $NF, steps }'
}
now=
bad=0
known=0
for run in reference ten-line van; do
  each=$(echo "$(count $run 3 8) $(count $run 8 3)" | awk 'NF == 4 { printf "%.1f", ($3 - $1) / ($4 - $2) }')
  [ -n "$each" ] || { echo "$run could not be counted"; exit 1; }
  now="$now$key|$run|$each
"
  was=$(grep -F "$key|$run|" $file | cut -d'|' -f3)
  if [ -z "$was" ]; then
    echo "$run: $each instructions a step"
  else
    known=1
    verdict=$(awk "BEGIN { r = $each / $was; print (r > 1.03 ? \"FAILED: more\" : r < 0.97 ? \"FAILED: less, renew the entry\" : \"ok\") }")
    echo "$run: $each instructions a step, was $was: $verdict"
    [ "$verdict" = ok ] || bad=1
  fi
done
if [ "${2:-}" = update ]; then
  { grep -vF "$key|" $file; printf '%s' "$now"; } >"$file.new" && mv "$file.new" $file
  exit 0
fi
[ $known -eq 1 ] || { echo "skipped: no entry for $key"; exit 77; }
exit $bad
