#!/bin/sh
# Everything that must pass: style; the suite as clang builds it, under the address and undefined-behaviour sanitizers, and a
# short fuzz run of the same build; the studies under the thread sanitizer; the suite as gcc builds it for release; the smoke
# program in WebAssembly. Warnings are errors with both compilers. Installs what is missing; uses ninja and ccache where available.
# Fifteen minutes on two slow processors: long journeys run in the gcc build alone, and are listed as skipped
# in the other.
set -u
cd "$(dirname "$0")/.."
. ./.ci/needs.sh

need $NEEDED_TO_BUILD $NEEDED_TO_TEST && need_clang_runtime || exit 1
want $WANTED_TO_TEST

LOG=$(mktemp) || exit 1
trap 'rm -f "$LOG" "$LOG.status"' EXIT
begun=$(date +%s)
passed=0
failed=0
skipped=0
broken=

# Counts one check that is not a ctest case; 77 = skipped, with its reason printed.
note() { # RESULT NAME
  if [ "$1" -eq 0 ]; then
    passed=$((passed + 1))
  elif [ "$1" -eq 77 ]; then
    skipped=$((skipped + 1))
  else
    failed=$((failed + 1))
    broken="$broken
  $2"
  fi
}

stage() { # WORDS...
  echo
  echo "== $* (after $(($(date +%s) - begun)) s)"
}

# Faster builds where the machine has the tools; a folder configured without them stays as it is.
quicker() { # FOLDER
  command -v ccache >/dev/null 2>&1 && printf '%s ' -DCMAKE_C_COMPILER_LAUNCHER=ccache
  [ -e "$1/CMakeCache.txt" ] || ! command -v ninja >/dev/null 2>&1 || printf '%s ' -GNinja
}

# Builds in FOLDER with extra cmake arguments, then runs the whole suite there.
suite() { # FOLDER ARGUMENT...
  folder=$1
  shift
  stage "$folder: $*"
  cmake -S . -B "$folder" $(quicker "$folder") -DTAILVOLT_WERROR=ON "$@" >"$LOG" 2>&1 &&
    cmake --build "$folder" --parallel "$JOBS" >>"$LOG" 2>&1
  status=$?
  [ $status -eq 0 ] || tail -n 60 "$LOG"
  note $status "build of $folder"
  [ $status -eq 0 ] || return
  echo "built after $(($(date +%s) - begun)) s"
  { ctest --test-dir "$folder" --output-on-failure --no-tests=error -j "$AT_ONCE" 2>&1; echo $? >"$LOG.status"; } |
    tee "$LOG"
  status=$(cat "$LOG.status")
  # "98% tests passed, 2 tests failed out of 100"
  counts=$(sed -n 's/^[0-9]*% tests passed, \([0-9]*\) tests* failed out of \([0-9]*\)$/\1 \2/p' "$LOG")
  if [ -z "$counts" ]; then
    note 1 "ctest in $folder"
    return
  fi
  bad=${counts% *}
  all=${counts#* }
  # a crash of the tool says nothing of the test: what failed must then pass by itself
  if [ "$bad" -ne 0 ] && grep -q "LeakSanitizer has encountered a fatal error" "$LOG"; then
    echo "the leak checker itself crashed: what failed runs once more"
    ctest --test-dir "$folder" --output-on-failure --rerun-failed && bad=0 status=0
  fi
  missed=$(grep -c '\*\*\*Skipped' "$LOG")
  passed=$((passed + all - bad - missed))
  failed=$((failed + bad))
  skipped=$((skipped + missed))
  if [ $status -ne 0 ] || [ "$bad" -ne 0 ]; then
    [ "$bad" -ne 0 ] || failed=$((failed + 1))
    broken="$broken
  tests in $folder"
  fi
}

# threads of a test that wait for each other leave the processors to the test beside it
export OMP_WAIT_POLICY=passive
AT_ONCE=$JOBS

stage style
for script in tests/style/*.sh; do
  sh "$script"
  note $? "$script"
done

# clang 14 guesses where glibc keeps the thread-local data of shared libraries, and its leak checker crashed twice on a wrong guess:
# without the guess it reads what it knows. One thread unless a test asks for more: two tests run at a time anyway.
export ASAN_OPTIONS=detect_leaks=1:intercept_tls_get_addr=0
OMP_NUM_THREADS=1 suite build-dev -DCMAKE_C_COMPILER=clang -DTAILVOLT_MODE=dev -DTAILVOLT_LONG_JOURNEYS=OFF

stage fuzz
sh tests/fuzz/run.sh build-dev "${TAILVOLT_FUZZ_SECONDS:-2}"
note $? "fuzz"

stage threads
sh tests/threads.sh build-thread
note $? "threads"

# one more than processors: the page's test waits for its browser half of the time
AT_ONCE=$((JOBS + 1))
suite build-gcc -DCMAKE_C_COMPILER=gcc

# Figures to read, which no shared machine can guarantee: fails only where it cannot run.
stage speed
build-gcc/tests/bench_jobs --short
note $? "bench_jobs"

stage WebAssembly
.ci/wasm.sh build-gcc/tests/smoke
note $? "WebAssembly"

echo
[ -z "$broken" ] || echo "failed:$broken"
echo "took $(($(date +%s) - begun)) s"
echo "all stages together: $passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
