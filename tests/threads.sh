#!/bin/sh
# threads.sh FOLDER: the studies that use threads, built in FOLDER with clang's ThreadSanitizer, two threads each.
#
# Threads and locks are the system's own (src/simulate/each.c, src/text/lock.h), which the sanitizer follows. Two small programs first
# show that a race is found and that an orderly loop is not accused; if not, nothing can be learned, and the script returns 77.
set -u
cd "$(dirname "$0")/.."
. ./.ci/needs.sh
folder=${1:-build-thread}
work=$(mktemp -d) || exit 1
trap 'rm -r "$work"' EXIT
export TSAN_OPTIONS="ignore_noninstrumented_modules=1 exitcode=66"

probe() { # NAME BEFORE AFTER
  printf '#include <pthread.h>\n#include <stdio.h>\nstatic int sum;\nstatic pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static void *add(void *of) {\n  for (int k = 0; k < 20000; k++) {\n%s\n    sum += k & 1;\n%s\n  }\n  return of;\n}
int main(void) {\n  pthread_t beside;\n  if (pthread_create(&beside, NULL, add, &lock) != 0) return 1;
  add(NULL);\n  pthread_join(beside, NULL);\n  return printf("%%d", sum) < 0;\n}\n' "$2" "$3" >"$work/$1.c"
  clang -g -O1 -pthread -fsanitize=thread "$work/$1.c" -o "$work/$1" >"$work/log" 2>&1 || return 1
  "$work/$1" >"$work/log" 2>&1
}
probe race '' ''
[ $? -eq 66 ] || { echo "threads skipped: the sanitizer does not see a race here"; exit 77; }
probe orderly 'pthread_mutex_lock(&lock);' 'pthread_mutex_unlock(&lock);' || { echo "threads skipped: it sees races that are none"; exit 77; }

launcher=
command -v ccache >/dev/null 2>&1 && launcher=-DCMAKE_C_COMPILER_LAUNCHER=ccache
generator=
[ -e "$folder/CMakeCache.txt" ] || ! command -v ninja >/dev/null 2>&1 || generator=-GNinja
cmake -S . -B "$folder" $generator $launcher -DCMAKE_C_COMPILER=clang -DTAILVOLT_MODE=thread -DTAILVOLT_WERROR=ON \
  -DTAILVOLT_TESTS=OFF >"$work/log" 2>&1 &&
  cmake --build "$folder" --parallel "$JOBS" --target tailvolt >>"$work/log" 2>&1 ||
  { tail -n 40 "$work/log"; exit 1; }

bad=0
try() { # WORDS...
  "$folder/tailvolt" "$@" >"$work/out" 2>"$work/err"
  status=$?
  if [ $status -eq 0 ]; then
    echo "no race: tailvolt $1"
  else
    echo "tailvolt $* returned $status"
    head -n 60 "$work/err"
    bad=1
  fi
}
van=examples/van-800w-8awg
# short jobs: a step costs about twenty times as much here
printf 'time_s,engine_rpm,programme,level_db\n0,800,drums,0\n2,800,drums,0\n' >"$work/short.csv"
try vary --threads 2 --settle 0s $van/system.ini "$work/short.csv" "cable amplifier feed.size = 8 AWG, 4 AWG, 1/0 AWG, 2 AWG"
try parked --threads 2 --spread 3 --level 0 --set "battery.capacity = 20 Ah" examples/hatchback-300w/system.ini
try remedy --threads 2 --parts 1 --settle 0s $van/system.ini "$work/short.csv"
exit $bad
