#!/bin/sh
# circles.sh [BUILD]: no two files of a folder need each other, directly or through others: neither objects, by the symbols they
# define and use, nor headers, by what they include. Without BUILD only headers are checked: a build folder may be days old.
# ctest runs it with its own.
cd "$(dirname "$0")/../.."
build=${1:-none}

edges() { # "room from to" lines
  for room in text parts network input simulate study report command; do
    target=tailvolt_objects
    [ $room != command ] || target=tailvolt
    folder=$build/CMakeFiles/$target.dir/src/$room
    [ -d "$folder" ] || continue
    # objects that a file left behind do not count
    objects=$(for source in src/$room/*.c; do echo "$folder/$(basename "$source").o"; done)
    nm -A $objects 2>/dev/null | awk -v room=$room '
      {
        file = $1
        sub(/\.c\.o:.*/, "", file)
        sub(/.*\//, "", file)
        if ($(NF - 1) ~ /^[TDRBC]$/) home[$NF] = file
        if ($(NF - 1) == "U" || $(NF - 1) ~ /:U$/) { asks[++count] = file; what[count] = $NF }
      }
      END {
        for (k = 1; k <= count; k++)
          if (what[k] in home && home[what[k]] != asks[k]) print room, asks[k], home[what[k]]
      }'
  done
  # headers
  for header in $(find src -name '*.h'); do
    sed -n 's/^#include "\([^"]*\.h\)".*/\1/p' "$header" | sed "s|^|header ${header#src/} |"
  done
}

list=$(edges | sort -u)
echo "$list" | awk '
  NF == 3 { n++; room[n] = $1; from[n] = $1 " " $2; to[n] = $1 " " $3; a[n] = $2; b[n] = $3; next_of[from[n]] = next_of[from[n]] "\n" to[n]; if ($1 != "header") calls++ }
  # is `goal` reached from `start`?
  function reaches(start, goal,    stack, depth, seen, list, count, k, at) {
    stack[depth = 1] = start
    while (depth > 0) {
      at = stack[depth--]
      if (at == goal) return 1
      if (at in seen) continue
      seen[at] = 1
      count = split(next_of[at], list, "\n")
      for (k = 2; k <= count; k++) stack[++depth] = list[k]
    }
    return 0
  }
  END {
    for (k = 1; k <= n; k++)
      if (reaches(to[k], from[k])) { printf "circle in %s: %s needs %s, which needs it\n", room[k], a[k], b[k]; bad = 1 }
    if (!bad) printf "circles: none among %d uses of files and %d of headers\n", calls, n - calls
    exit bad
  }'
