# Sourced by the lessons: shows each command before it runs, draws the picture, lists what to notice.
#
# A lesson runs from anywhere: sh examples/lessons/01-thin-cable.sh [FOLDER-FOR-THE-PICTURES]
# TAILVOLT names the command where it is not on the path. Every command is shown in a form that can be typed again right there.

lessons=$(dirname "$0")
pictures=${1:-.}
mkdir -p "$pictures" || exit 1
TAILVOLT=${TAILVOLT:-tailvolt}

title() {
  printf '%s\n' "$1" "$1" | sed '2s/./=/g'
  echo
}

say() { printf '%s\n' "$1" | fold -s -w 96 | sed "s, *$,,"; echo; }

# Shows the command as typed, and runs it.
show() {
  printf '$'
  for word in "$@"; do
    case $word in
      *[!A-Za-z0-9_./:-]*) printf ' "%s"' "$word" ;;
      *) printf ' %s' "$word" ;;
    esac
  done
  echo
}
try() {
  show "$TAILVOLT" "$@"
  "$TAILVOLT" "$@" || exit 1
  echo
}

# parts RESULT.json NAME...: the largest drop across a cable, fuse or joint of a result
parts() {
  from=$1
  shift
  for name in "$@"; do
    awk -v wanted="\"$name\"" '$1 == "\"name\":" { here = index($0, "\"name\": " wanted) > 0 }
      here && $1 == "\"max_drop_v\":" { printf "  %-16s %.3f V\n", substr(wanted, 2, length(wanted) - 2), $2 + 0; here = 0 }' "$from"
  done
  echo
}

# keep FILE ARGUMENTS...: shows the output, then writes the same to a file that can be drawn.
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
