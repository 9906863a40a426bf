#!/bin/sh
# The three jobs of the puppet theatre give the answers they are there for, and the files they come from read cleanly.
set -eu
command=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
cd "$(dirname "$0")/../.."

expect() { # FOLDER EXIT FIRST-WORDS
  code=0
  "$command" check --quiet "examples/$1/system.ini" "examples/$1/profile.csv" >/dev/null || {
    echo "$1: check finds faults"
    exit 1
  }
  report=$("$command" simulate --strict "examples/$1/system.ini" "examples/$1/profile.csv") || code=$?
  first=$(printf '%s\n' "$report" | head -n 1)
  if [ "$code" -ne "$2" ]; then
    echo "$1: exit code $code, wanted $2: $first"
    exit 1
  fi
  case $first in
    "$3"*) echo "$1: $first" ;;
    *)
      echo "$1: says '$first', wanted '$3...'"
      exit 1
      ;;
  esac
}

expect hatchback-300w 0 "HOLDS"
expect van-800w-8awg 1 "FAILS at idle"
expect van-put-right 0 "HOLDS"

# starting the engine midway, with starts simulated, makes nothing worse: that moment is kept apart
for round in school-run delivery-round; do
  report=$("$command" simulate --strict --set "engine.simulate starts = yes" examples/hatchback-300w/system.ini \
    "profiles/$round.csv") || { echo "$round with starts: $(printf '%s\n' "$report" | head -n 1)"; exit 1; }
  printf '%s\n' "$report" | sed -n '1,2p' | tr -s '\n ' ' ' | grep -q 'HOLDS.*while the engine is started' || {
    echo "$round does not name the start apart: $(printf '%s\n' "$report" | head -n 2)"
    exit 1
  }
done

# a fuse too big for its cable is a matter of safety, not of taste
"$command" simulate examples/van-800w-8awg/system.ini examples/van-800w-8awg/profile.csv | grep "^SAFETY" |
  grep -q '^SAFETY .*80 A.*8 AWG' || { echo "the oversized fuse is not in the SAFETY line"; exit 1; }

# neither half of the cure is enough alone
half() { # NAME SETTING...
  name=$1
  shift
  code=0
  "$command" simulate --strict --quiet "$@" examples/van-800w-8awg/system.ini examples/van-800w-8awg/profile.csv \
    >/dev/null || code=$?
  if [ "$code" -ne 1 ]; then
    echo "$name alone: exit code $code, wanted 1"
    exit 1
  fi
}
half "the cable" --set "cable amplifier feed.size = 4 AWG" --set "cable amplifier ground.size = 4 AWG"
half "the alternator" --set "alternator.rated current = 150 A" --set "alternator.low current = 75 A" \
  --set "fuse main.rating = 50 A"
echo "each half of the cure alone fails"
