#!/bin/sh
# Outputs as files, whatever they are called: what was there and is not theirs stays, links lead where they lead, permissions stay.
. tests/journeys/support/expect.sh

printf 'time_s,engine_rpm,programme\n0,800,music\n1,800,music\n' >"$work/p.csv"
cp examples/reference/ten-line.ini "$work/t.ini"
cp examples/reference/ten-line.ini "$work/kept.ini"
"$tailvolt" check "$work/t.ini" >"$work/said"
kept() { cmp -s "$work/t.ini" "$work/kept.ini" || { complain "$asked: its input was written over"; cp "$work/kept.ini" "$work/t.ini"; }; }

# names of descriptors: what they lead to is written on, not replaced
for name in /dev/stdout /dev/fd/1 /proc/self/fd/1 "$work/way-out"; do
  case $name in /proc/* | "$work"/*) [ -d /proc/self/fd ] || continue ;; esac
  [ -e /dev/fd/1 ] || continue
  ln -sf /dev/stdout "$work/way-out"
  asked="-o $name"
  echo HEAD >"$work/log"
  { "$tailvolt" check "$work/t.ini" -o "$name" && echo TAIL; } >>"$work/log"
  { echo HEAD; cat "$work/said"; echo TAIL; } | cmp -s - "$work/log" || complain "$asked >>log: the log holds other than what was written to it"
  { echo HEAD; "$tailvolt" check "$work/t.ini" -o "$name"; echo TAIL; } >"$work/log"
  { echo HEAD; cat "$work/said"; echo TAIL; } | cmp -s - "$work/log" || complain "$asked >log: the log holds other than what was written to it"
  "$tailvolt" check "$work/t.ini" -o "$name" | cmp -s - "$work/said" || complain "$asked: a pipe does not get the output"
done
if [ -e /dev/stderr ]; then
  { echo HEAD; "$tailvolt" check "$work/t.ini" -o /dev/stderr 2>&1 >"$work/out"; echo TAIL; } >"$work/log"
  { echo HEAD; cat "$work/said"; echo TAIL; } | cmp -s - "$work/log" || complain "-o /dev/stderr: the log holds other than what was written to it"
fi

# inputs, whatever names them
printf '<script id="job">null</script>\n' >"$work/page.html"
cp "$work/page.html" "$work/page-kept.html"
run 2 live "$work/t.ini" --page "$work/page.html" -o "$work/page.html"; err "is an input of this command"
cmp -s "$work/page.html" "$work/page-kept.html" || complain "$asked: its page was written over"
{ printf 'RIFF\244\037\000\000WAVEfmt \020\000\000\000\001\000\001\000\100\037\000\000\100\037\000\000\001\000\010\000data\100\037\000\000'
  awk 'BEGIN { for (n = 0; n < 8000; n++) printf "%s", n % 200 < 100 ? "@" : "`" }'; } >"$work/tone.wav"
run 2 envelope "$work/tone.wav" -a "$work/t.ini:bass" -o "$work/t.ini"; err "is an input of this command"; kept
run 2 simulate - "$work/p.csv" -o "$work/t.ini" <"$work/t.ini"; err "is an input of this command"; kept
ln "$work/t.ini" "$work/hard.ini"
run 2 check "$work/t.ini" -o "$work/hard.ini"; err "is an input of this command"; kept
rm "$work/hard.ini"

# a system that only the keys which are varied complete: its files are inputs as well
cp "$work/tone.wav" "$work/tone-kept.wav"
for gap in "rated power:amplifier bass.rated power = 300 W, 500 W" "length:cable feed.length = 1 m, 2 m"; do
  { sed "/^${gap%%:*}/d" "$work/t.ini"; printf '[programme music]\nrecording = tone.wav\n'; } >"$work/part.ini"
  run 2 vary "$work/part.ini" "$work/p.csv" "${gap#*:}" -o "$work/tone.wav"; err "is an input of this command"
  # and of the two keys one names it, however it is written
  run 2 vary "$work/part.ini" "$work/p.csv" "programme music.Recording = other.wav, tone.wav" "${gap#*:}" -o "$work/tone.wav"
  err "is an input of this command"
  run 2 vary "$work/part.ini" "$work/p.csv" "programme music.recording = other.wav, tone.wav" "${gap#*:}" -o "$work/tone.wav"
  err "is an input of this command"
  cmp -s "$work/tone.wav" "$work/tone-kept.wav" || { complain "$asked: a recording was written over"; cp "$work/tone-kept.wav" "$work/tone.wav"; }
done

# check writes beside faults too: what a refused system names, and what a report names, stays
{ sed '/^rated power/d' "$work/t.ini"; printf '[programe music]\nrecording = tone.wav\n'; } >"$work/part.ini"
stays() { cmp -s "$work/tone.wav" "$work/tone-kept.wav" || { complain "$asked: a recording was written over"; cp "$work/tone-kept.wav" "$work/tone.wav"; }; }
run 2 check "$work/part.ini" "$work/p.csv" -o "$work/tone.wav"; err "is an input of this command"; stays
run 2 check "$work/part.ini" -f json -o "$work/tone.wav"; err "is an input of this command"; stays
run 2 check "$work/part.ini" "$work/p.csv" -o "$work/faults.txt"; err "unknown section"
[ -s "$work/faults.txt" ] || complain "$asked: wrote nothing of what was understood"
sed '/^rated power/d' "$work/t.ini" >"$work/part.ini"
run 2 check "$work/part.ini" "$work/p.csv" --set "programme music.recording = tone.wav" -o "$work/tone.wav"; err "is an input of this command"; stays
{ cat "$work/t.ini"; printf '[programme music]\nrecording = tone.wav\n'; } >"$work/rec.ini"
run 0 simulate --spread 0 "$work/rec.ini" "$work/p.csv" -f json -o "$work/job.json"
run 2 check "$work/job.json" -o "$work/tone.wav"; err "is an input of this command"; stays
run 2 check "$work/job.json" -o "$work/rec.ini"; err "is an input of this command"
echo other >>"$work/tone.wav"
cp "$work/tone.wav" "$work/tone-kept.wav"
run 2 check "$work/job.json" -f json -o "$work/tone.wav"; stays
kept

# two outputs in one file, whatever it is called
mkdir "$work/sub"
ln -s sub/../both "$work/led"
printf 'reading,value\n' >"$work/readings.csv"
for words in "simulate $work/t.ini $work/p.csv --record" "remedy $work/t.ini $work/p.csv --write" "measure $work/t.ini --write" \
  "match $work/t.ini $work/p.csv --fit battery.charge --write"; do
  for other in "$work/./both" "$work/sub/../both" "$work/led"; do
    run 2 $words "$other" -o "$work/both"; err "a file of its own"; silent_out
    : >"$work/both"
    run 2 $words "$other" -o "$work/both"; err "a file of its own"
    "$tailvolt" $words "$other" >"$work/both" 2>"$work/err" && complain "$words $other >both: was done"
    err "a file of its own"
    rm "$work/both"
  done
done
run 0 simulate --spread 0 "$work/t.ini" "$work/p.csv" -o /dev/null --record /dev/null

# links: followed to their end, which may not exist yet; one that leads nowhere is refused
mkdir "$work/links"
ln -s real.txt "$work/links/A"
ln -s A "$work/links/B"
ln -s links/B "$work/C"
run 0 check "$work/t.ini" -o "$work/C"
for link in links/A links/B C; do [ -L "$work/$link" ] || complain "$asked: $link is no link any more"; done
cmp -s "$work/links/real.txt" "$work/said" || complain "$asked: the file behind three links does not hold the output"
run 0 check "$work/t.ini" --units us -o "$work/C"
[ -L "$work/C" ] && cmp -s "$work/links/A" "$work/links/real.txt" || complain "$asked: written a second time"
ln -s round "$work/round"
run 4 check "$work/t.ini" -o "$work/round"; err "cannot write"
[ -L "$work/round" ] || complain "$asked: the link was replaced"

# permissions
echo old >"$work/own.txt"
chmod 600 "$work/own.txt"
run 0 check "$work/t.ini" -o "$work/own.txt"
case $(ls -l "$work/own.txt") in -rw-------*) ;; *) complain "$asked: permissions were 600: $(ls -l "$work/own.txt")" ;; esac
chmod 444 "$work/own.txt"
run 4 check "$work/t.ini" --units us -o "$work/own.txt"; err "Permission denied"
cmp -s "$work/own.txt" "$work/said" || complain "$asked: a file that is write-protected was replaced"

# a name as long as any may be
name=$(printf '%250s' '' | tr ' ' n)
run 0 check "$work/t.ini" -o "$work/$name"
cmp -s "$work/$name" "$work/said" || complain "$asked: a long name"
find "$work" -name '*.part' | grep -q . && complain "a temporary is left behind"
finish
