#!/bin/sh
# run.sh FOLDER SECONDS [KEEP]: builds the fuzz targets in FOLDER with clang and runs each for SECONDS.
# New inputs go to KEEP/<target> where KEEP is given, else they are dropped; a crash leaves its input in FOLDER.
set -eu
seconds=${2:?seconds}
mkdir -p "$1"
folder=$(cd "$1" && pwd)
keep=${3:-}
cd "$(dirname "$0")/../.."

log=$folder/fuzz-build.log
if ! { cmake -S . -B "$folder" -DCMAKE_C_COMPILER=clang -DTAILVOLT_MODE=dev ${WATCH_COMPARES:+-DTAILVOLT_WATCH_COMPARES=ON} &&
  cmake --build "$folder" --parallel "$(getconf _NPROCESSORS_ONLN)" --target fuzz; } >"$log" 2>&1; then
  tail -n 40 "$log"
  exit 1
fi

run() { # TARGET
  target=$1
  seeds=tests/fuzz/seeds/${target#fuzz_}
  corpus=${keep:+$keep/$target}
  temporary=
  if [ -z "$corpus" ]; then
    temporary=$(mktemp -d)
    corpus=$temporary
  fi
  mkdir -p "$corpus"
  # the targets' own messages are shut off; those of the fuzzer and the sanitizers are not
  if "$folder/tests/$target" -close_fd_mask=3 -max_total_time="$seconds" -timeout=10 -rss_limit_mb=2048 -max_len=4096 \
    -dict=tests/fuzz/words.dict -artifact_prefix="$folder/$target-" -print_final_stats=1 -verbosity=0 \
    "$corpus" "$seeds" >"$folder/$target.log" 2>&1; then
    runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$folder/$target.log")
    echo "$target: $runs inputs in $seconds s, nothing found"
  else
    tail -n 60 "$folder/$target.log"
    echo "$target: FAILED, its input is $folder/$target-..."
    : >"$folder/fuzz-failed"
  fi
  [ -z "$temporary" ] || rm -r "$temporary"
}

rm -f "$folder/fuzz-failed"
running=0
for source in tests/fuzz/fuzz_*.c; do
  run "$(basename "$source" .c)" &
  running=$((running + 1))
  if [ "$running" -eq "$(getconf _NPROCESSORS_ONLN)" ]; then
    wait
    running=0
  fi
done
wait
[ ! -e "$folder/fuzz-failed" ]
