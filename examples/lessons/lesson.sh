# Sourced by the lessons: shows each command before it runs, draws the picture, lists what to notice.
#
# A lesson runs from anywhere: sh examples/lessons/01-thin-cable.sh [FOLDER-FOR-THE-PICTURES]
# TAILVOLT names the command where it is not on the path.

lessons=$(cd "$(dirname "$0")" && pwd)
pictures=${1:-.}
mkdir -p "$pictures" || exit 1
pictures=$(cd "$pictures" && pwd)
case ${TAILVOLT:-tailvolt} in
  */*) TAILVOLT=$(cd "$(dirname "$TAILVOLT")" && pwd)/$(basename "$TAILVOLT") ;;
esac
cd "$lessons" || exit 1

title() {
  printf '%s\n' "$1" "$1" | sed '2s/./=/g'
  echo
}

say() { printf '%s\n' "$1" | fold -s -w 96 | sed "s, *$,,"; echo; }

# Shows the command as one types it, and runs it.
try() {
  printf '$ tailvolt'
  for word in "$@"; do
    case $word in
      "$pictures"/*) printf ' %s' "${word##*/}" ;;
      *[!A-Za-z0-9_./:-]*) printf ' "%s"' "$word" ;;
      *) printf ' %s' "$word" ;;
    esac
  done
  echo
  "${TAILVOLT:-tailvolt}" "$@" || exit 1
  echo
}

# keep FILE ARGUMENTS...: shows what comes out, then the same into a file that can be drawn.
keep() {
  file=$1
  shift
  try "$@"
  try "$@" -o "$pictures/$file"
}

# draw FILE ARGUMENTS...: the picture of the lesson; a class without gnuplot goes on without it
draw() {
  picture=$1
  shift
  if command -v gnuplot >/dev/null 2>&1; then
    try plot "$@" -o "$pictures/$picture"
  else
    say "(gnuplot is not installed: the picture $picture is left out; see pictures/$picture)"
  fi
}

notice() {
  echo "Three things to notice:"
  for number in 1 2 3; do
    printf '%s. %s\n' "$number" "$1" | fold -s -w 92 | sed "s, *$,," | sed '2,$s/^/   /'
    shift
  done
}
