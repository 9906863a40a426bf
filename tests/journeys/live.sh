#!/bin/sh
# The page with a job in it: what is put in, what is refused, and that nothing in a job can end the tags around it. A page of three
# lines replaces the built one, which tests/pages/live.sh checks.
. tests/journeys/support/expect.sh

van=examples/van-800w-8awg
printf '<!DOCTYPE html><p>page</p>\n<script type="application/json" id="job">null</script>\n<p>end</p>\n' >"$work/page.html"
page="--page $work/page.html"

run 0 live $van/system.ini $van/profile.csv $page -o "$work/job.html"; silent_out; silent_err
cp "$work/job.html" "$work/out"
out "<p>page</p>"; out "<p>end</p>"; out '"name":"system.ini"'; out '"profileName":"profile.csv"'; out "[cable amplifier feed]"
grep -q "$van" "$work/job.html" && complain "the page says what folder the job came from"
run 0 live examples/reference/ten-line.ini $page; out '"profile":null'; out "size = 8 AWG"; silent_err
run 0 live examples/reference/ten-line.ini --set "cable feed.size = 4 AWG" $page; out "size = 4 AWG"
run 0 live - $page <examples/reference/ten-line.ini; out '"name":"system.ini"'

# the same job, read back by a JSON reader
if command -v node >/dev/null 2>&1; then
  node -e 'const page = require("fs").readFileSync(process.argv[1], "utf8");
    const data = JSON.parse(/id="job">(.*)<\/script>/.exec(page)[1]);
    if (data.profile !== require("fs").readFileSync(process.argv[2], "utf8")) throw new Error("another profile");' \
    "$work/job.html" $van/profile.csv || complain "the job in the page is not the one that was given"
fi

# names that would be markup
{ printf '[vehicle]\nname = </script><script>alert(1)</script>\n'; cat examples/reference/ten-line.ini; } >"$work/hostile.ini"
run 0 live "$work/hostile.ini" $page
[ "$(grep -c '</script>' "$work/out")" = 1 ] || complain "a name ends the tag that the job stands in"
out 'u003c/script>'

# envelopes go along, recordings do not
mkdir "$work/job"
printf 'time_s,share\n0,0.5\n1,0.1\n2,0.1\n' >"$work/job/club.csv"
{ cat examples/reference/ten-line.ini; printf '[programme club]\nenvelope = club.csv\n'; } >"$work/job/system.ini"
run 0 live "$work/job/system.ini" $page; out '"club.csv"'; out 'time_s,share'; silent_err

# a recording whose length in bytes reads as text: all before its first zero is UTF-8
{
  printf 'RIFF$}\000\000WAVEfmt \020\000\000\000\001\000\001\000\100\037\000\000\100\037\000\000\001\000\010\000data\000}\000\000'
  head -c 32000 /dev/zero | tr '\000' P
} >"$work/job/club.wav"
sed 's/^envelope = .*/recording = club.wav/' "$work/job/system.ini" >"$work/job/played.ini"
run 0 live "$work/job/played.ini" $page; err "club.wav is not taken along"
grep -q '\["club.wav"' "$work/out" && complain "a piece of a recording goes along"

# what is refused
run 2 live; err "live"; silent_out
run 2 live "$work/nothing.ini" $page; err "nothing.ini"; silent_out
printf '[battery]\ncapacity = 70\n' >"$work/bad.ini"
run 2 live "$work/bad.ini" $page; err "bad.ini:2"; silent_out
printf 'time_s,rpm\n0,1\n' >"$work/bad.csv"
run 2 live $van/system.ini "$work/bad.csv" $page; err "bad.csv:1"; silent_out
run 2 live $van/system.ini --page "$work/none.html"; err "none.html"; silent_out
run 2 live $van/system.ini --page "$work/job.html"; err "already holds a job"; silent_out
cp examples/reference/ten-line.ini "$work/own.ini"
run 2 live "$work/own.ini" $page -o "$work/own.ini"; err "not overwritten"
cmp -s "$work/own.ini" examples/reference/ten-line.ini || complain "the system file was written over"
run 4 live $van/system.ini $page -o "$work/no/such/folder.html"; err "cannot write"

# a command without the page says how to get it
mkdir "$work/alone" && cp "$tailvolt" "$work/alone/tailvolt"
if "$work/alone/tailvolt" live $van/system.ini >"$work/out" 2>"$work/err"; then
  [ -s "$work/out" ] || complain "nothing was written"
else
  err ".ci/build page"; silent_out
fi
finish
