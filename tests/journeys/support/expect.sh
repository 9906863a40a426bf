# Sourced by the journeys: runs the command and checks its output.
#
# A journey starts with `. tests/journeys/support/expect.sh`, and ends with `finish`. $tailvolt is the command's
# path, $work its own folder, removed at the end.

tailvolt=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
faults=0

complain() {
  echo "FAILED: $*" >&2
  faults=$((faults + 1))
}

# run WANTED-EXIT-CODE ARGUMENTS...: output goes to $work/out, messages to $work/err
run() {
  wanted=$1
  shift
  code=0
  "$tailvolt" "$@" >"$work/out" 2>"$work/err" || code=$?
  asked="tailvolt $*"
  if [ "$code" -ne "$wanted" ]; then
    complain "$asked: exit code $code, wanted $wanted"
    sed 's/^/    /' "$work/err" | head -5 >&2
  fi
}

# out TEXT, err TEXT: the output (the messages) must contain it
out() { grep -qF -e "$1" "$work/out" || complain "$asked: output lacks: $1"; }
err() { grep -qF -e "$1" "$work/err" || complain "$asked: messages lack: $1 (they are: $(head -3 "$work/err"))"; }

silent_out() { [ ! -s "$work/out" ] || complain "$asked: wrote to standard output"; }
silent_err() { [ ! -s "$work/err" ] || complain "$asked: wrote to standard error: $(head -1 "$work/err")"; }

# stopped ARGUMENTS...: a run of hours that a signal ends at once
stopped() {
  asked="tailvolt $*, stopped"
  "$tailvolt" "$@" >"$work/out" 2>"$work/err" &
  process=$!
  sleep 1
  kill -TERM $process 2>/dev/null || complain "$asked: was over before"
  waited=0
  while kill -0 $process 2>/dev/null && [ $waited -lt 50 ]; do sleep 0.1; waited=$((waited + 1)); done
  kill -9 $process 2>/dev/null && complain "$asked: went on for seconds"
  code=0
  wait $process 2>/dev/null || code=$?
  [ $code -eq 143 ] || complain "$asked: exit code $code, wanted 143"
}

# every line of messages starts with "tailvolt: "
messages_are_named() {
  if grep -qv '^tailvolt: ' "$work/err"; then complain "$asked: a message without its name: $(grep -v '^tailvolt: ' "$work/err" | head -1)"; fi
}

finish() {
  [ "$faults" -eq 0 ] || exit 1
  exit 0
}
