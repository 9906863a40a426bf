#!/bin/sh
# Every command shown in a ```console block of the documents is run, and must print what is shown beneath it.
# documents.sh COMMAND update   writes their present output into the documents instead.
set -eu
command=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
update=${2:-}
cd "$(dirname "$0")/../.."
PATH=$(dirname "$command"):$PATH
LC_ALL=C
export PATH LC_ALL
unset NO_COLOR TAILVOLT_DATA 2>/dev/null || true

# the sanitizers slow this down tenfold and change no number
if grep -q '^TAILVOLT_MODE:[A-Z]*=dev$' "$(dirname "$command")/CMakeCache.txt" 2>/dev/null; then
  echo "skipped: not under sanitizers"
  exit 77
fi

work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
status=0
shown=0

for document in README.md DEVELOPERS.md examples/README.md examples/*/README.md profiles/README.md; do
  [ -f "$document" ] || continue
  rm -f "$work"/block-*
  # block-N.command and block-N.shown
  awk -v work="$work" '
    /^```console$/ { inside = 1; n++; next }
    inside && /^```$/ { inside = 0; next }
    inside && /^\$ / { print substr($0, 3) >(work "/block-" n ".command"); printf "" >(work "/block-" n ".shown"); next }
    inside { print >(work "/block-" n ".shown") }
  ' "$document"
  for block in "$work"/block-*.command; do
    [ -f "$block" ] || continue
    name=${block%.command}
    shown=$((shown + 1))
    sh "$block" >"$name.seen" 2>&1 </dev/null || true
    [ -z "$update" ] || continue
    if ! diff "$name.shown" "$name.seen" >"$work/difference"; then
      echo "$document: \$ $(cat "$block")"
      cat "$work/difference"
      status=1
    fi
  done
  if [ -n "$update" ]; then
    awk -v work="$work" '
      /^```console$/ { print; inside = 1; n++; next }
      inside && /^```$/ {
        while ((getline line <(work "/block-" n ".seen")) > 0) print line
        inside = 0
      }
      !inside || /^\$ / { print }
    ' "$document" >"$work/document"
    cat "$work/document" >"$document"
  fi
done
# the picture of the worst beat matches today's run in words and figures
picture=examples/van-800w-8awg/worst-beat.svg
if command -v gnuplot >/dev/null 2>&1; then
  words() { grep -oE '>[^<>]+<' "$1" | grep -E '[A-Za-z0-9]'; }
  "$command" simulate --quiet examples/van-800w-8awg/system.ini examples/van-800w-8awg/profile.csv -f json \
    --record "$work/van.csv" --record-every 1ms >/dev/null
  "$command" plot "$work/van.csv" -p beat -o "$work/beat.svg"
  [ -z "$update" ] || sed 's/[[:space:]]*$//' "$work/beat.svg" >"$picture"
  words "$work/beat.svg" >"$work/drawn"
  words "$picture" >"$work/shown"
  cmp -s "$work/drawn" "$work/shown" || {
    echo "$picture shows other figures than a run of today: documents.sh COMMAND update draws it"
    status=1
  }
fi
# the README's table of commands is complete
for name in $("$command" help | sed -n 's/^  \([a-z][a-z]*\)  .*/\1/p'); do
  grep -q "^| .tailvolt $name " README.md || {
    echo "README.md: no line for the command $name in the table of commands"
    status=1
  }
done
[ "$shown" -gt 0 ] || { echo "no commands found in the documents"; exit 1; }
[ $status -ne 0 ] || echo "$shown commands of the documents print what they show"
exit $status
