#!/bin/sh
# From a recording to an envelope, and a run that plays it.
set -eu
command=$1
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT

fail() {
  echo "$*"
  exit 1
}
# expect CODE ARGUMENT...: exit code; output in $work/out, messages in $work/err
expect() {
  wanted=$1
  shift
  code=0
  "$command" "$@" >"$work/out" 2>"$work/err" || code=$?
  [ "$code" -eq "$wanted" ] || { cat "$work/err"; fail "$* ended with $code, wanted $wanted"; }
}
shows() { # FILE TEXT
  grep -qF -- "$2" "$work/$1" || { cat "$work/$1"; fail "no \"$2\" in $1"; }
}

# two seconds of a square wave at 40 Hz, eight bits, 8 kHz, half a second of it loud, the rest 20 dB quieter
{
  printf 'RIFF\244\076\000\000WAVEfmt \020\000\000\000\001\000\001\000\100\037\000\000\100\037\000\000\001\000\010\000'
  printf 'data\200\076\000\000'
  printf '%b' "$(awk 'BEGIN {
    for (i = 0; i < 16000; i++) printf "\\0%o", 128 + (i < 4000 ? 100 : 10) * (int(i / 100) % 2 ? -1 : 1)
  }')"
} >"$work/square.wav"

# mean square (0.25 + 0.75 / 100) of the peak's: 5.89 dB below it, 51.5 % of the rated power
expect 0 envelope "$work/square.wav" -o "$work/square.csv"
shows out ", 8000 Hz, 1 channel"
shows out "crest factor    5.89 dB"
shows out "mean power      51.50 % of rated"
shows out "200 windows written to"
[ "$(wc -l <"$work/square.csv")" -eq 202 ] || fail "the envelope has the wrong number of rows"
[ "$(sed -n 1,2p "$work/square.csv" | tr '\n' ' ')" = "time_s,share 0,2 " ] || fail "the envelope starts wrongly"
[ "$(sed -n '$p' "$work/square.csv" | cut -d, -f1)" = 2 ] || fail "the envelope does not end at 2 s"

expect 0 envelope "$work/square.wav" --format json --level -10dB --amplifier examples/reference/ten-line.ini
shows out '"crest_factor_db": 5.89'
shows out '"filtered": null'
shows out '"mean_share": 0.515'
shows out '"mean_share_at_level": 0.0515'
shows out '"name": "bass"'
expect 0 envelope "$work/square.wav" --format json --below "40 Hz"
shows out '"below_hz": 40.0'
shows out '"order": 4'
shows out '"mono": true'
expect 0 envelope "$work/square.wav" --below "40 Hz"
shows out "crossover: Linkwitz-Riley, order 4 (24 dB an octave), 6 dB down at its frequency"
shows out "one channel"
expect 2 envelope "$work/square.wav" --mono --stereo
shows err "one of them"

# a bass amplifier plays the sum: left and right in opposition are silent to it, with --stereo they are not
{
  printf 'RIFF\244\076\000\000WAVEfmt \020\000\000\000\001\000\002\000\240\017\000\000\100\037\000\000\002\000\010\000'
  printf 'data\200\076\000\000'
  printf '%b' "$(awk 'BEGIN {
    for (i = 0; i < 8000; i++) { v = 100 * (int(i / 50) % 2 ? -1 : 1); printf "\\0%o\\0%o", 128 + v, 128 - v }
  }')"
} >"$work/opposed.wav"
expect 2 envelope "$work/opposed.wav" --below "80 Hz"
shows err "silent"
expect 0 envelope "$work/opposed.wav" --below "80 Hz" --stereo
shows out "channels kept apart"
expect 0 envelope "$work/opposed.wav"
expect 0 envelope "$work/square.wav" -o - --window 100ms
[ "$(wc -l <"$work/out")" -eq 22 ] || fail "20 windows of 100 ms, a header and an end were wanted"

# played by a run, from the envelope and from the recording itself: the same
for source in "envelope = square.csv" "recording = square.wav"; do
  { cat examples/reference/ten-line.ini; printf '\n[programme music]\n%s\n' "$source"; } >"$work/system.ini"
  printf 'time_s,engine_rpm\n0,800\n20,800\n' >"$work/profile.csv"
  expect 0 simulate "$work/system.ini" "$work/profile.csv" --format json
  grep -oE '"(min_v|mean_a|output_j)": [0-9.]+' "$work/out" | cut -c1-18 >"$work/${source%% *}.txt"
done
cmp "$work/envelope.txt" "$work/recording.txt" || fail "the envelope plays otherwise than its recording"

# cut short: told, and used as far as it goes; a run refuses it
head -c 8000 "$work/square.wav" >"$work/cut.wav"
expect 0 envelope "$work/cut.wav"
shows err "warning: $work/cut.wav: ends after 0.995 s of the 2 s that it declares; the rest is missing"
{ cat examples/reference/ten-line.ini; printf '\n[programme music]\nrecording = cut.wav\n'; } >"$work/system.ini"
expect 2 simulate "$work/system.ini" "$work/profile.csv"
shows err "cut.wav: is cut short or damaged after 0.995 s"

# styles by name and by file; a programme's own value stands above the style's
for style in clipped "held bass" held-bass kick folk dance spoken steady-tone profiles/style-kick.ini; do
  case $style in */*) style="$PWD/$style" ;; esac
  expect 0 check examples/reference/ten-line.ini --set "programme music.style = $style"
  shows out "$style"
done
expect 0 check examples/reference/ten-line.ini --set "programme music.style = kick" \
  --set "programme music.crest factor = 12 dB"
expect 2 check examples/reference/ten-line.ini --set "programme music.style = kik"
shows err "programme music: kik: no style of this name; did you mean 'kick'?"
expect 2 check examples/reference/ten-line.ini --set "programme music.style = spoken" \
  --set "programme music.crest factor = 4 dB"
shows err "quiet passages leave a mean of 0.4917 of the loudest"
expect 2 check examples/reference/ten-line.ini --set "programme music.phrases = 0.5"
shows err "phrases"
expect 2 check examples/reference/ten-line.ini --set "programme music.recording = none.ogg"
shows err "programme music: none.ogg: No such file or directory"
expect 2 check examples/reference/ten-line.ini --set "programme music.below = 80 Hz"
shows err "'below' is for 'recording' only"

expect 2 envelope "$work/none.wav"
shows err "none.wav: No such file or directory"
expect 2 envelope "$work/square.csv"
shows err "square.csv: cannot be read as a recording"
expect 2 envelope "$work/square.wav" --below 80
shows err "--below 80: write a value with its unit (Hz"
expect 2 envelope "$work/square.wav" --below 5000Hz
shows err "crossover: must be below half of the sampling rate, 4000 Hz"
expect 2 envelope "$work/square.wav" -o "$work/square.wav"
shows err "is an input of this command and is not written over"
expect 2 envelope "$work/square.wav" --amplifier examples/reference/ten-line.ini:bas
shows err "has no amplifier \`bas\`; it has \`bass\`"
expect 4 envelope "$work/square.wav" -o "$work/none/square.csv"
echo "envelope: all as wanted"
