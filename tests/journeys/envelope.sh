#!/bin/sh
# From a recording to an envelope, and a run that plays it.
. tests/journeys/support/expect.sh

# two seconds of a square wave at 40 Hz, eight bits, 8 kHz, half a second of it loud, the rest 20 dB quieter
{
  printf 'RIFF\244\076\000\000WAVEfmt \020\000\000\000\001\000\001\000\100\037\000\000\100\037\000\000\001\000\010\000'
  printf 'data\200\076\000\000'
  printf '%b' "$(awk 'BEGIN {
    for (i = 0; i < 16000; i++) printf "\\0%o", 128 + (i < 4000 ? 100 : 10) * (int(i / 100) % 2 ? -1 : 1)
  }')"
} >"$work/square.wav"

# mean square (0.25 + 0.75 / 100) of the peak's: 5.89 dB below it, 51.5 % of the rated power
run 0 envelope "$work/square.wav" -o "$work/square.csv"
out ", 8000 Hz, 1 channel"
out "crest factor    5.89 dB"
out "mean power      51.50 % of rated"
out "200 windows written to"
[ "$(wc -l <"$work/square.csv")" -eq 202 ] || complain "the envelope has the wrong number of rows"
[ "$(sed -n 1,2p "$work/square.csv" | tr '\n' ' ')" = "time_s,share 0,2 " ] || complain "the envelope starts wrongly"
[ "$(sed -n '$p' "$work/square.csv" | cut -d, -f1)" = 2 ] || complain "the envelope does not end at 2 s"

run 0 envelope "$work/square.wav" --format json --level -10dB --amplifier examples/reference/ten-line.ini
out '"crest_factor_db": 5.89'
out '"filtered": null'
out '"mean_share": 0.515'
out '"mean_share_at_level": 0.0515'
out '"name": "bass"'
run 0 envelope "$work/square.wav" --format json --below "40 Hz"
out '"below_hz": 40.0'
out '"order": 4'
out '"mono": true'
run 0 envelope "$work/square.wav" --below "40 Hz"
out "crossover: Linkwitz-Riley, order 4 (24 dB an octave), 6 dB down at its frequency"
out "one channel"
run 2 envelope "$work/square.wav" --mono --stereo
err "one of them"

# a bass amplifier plays the sum: left and right in opposition cancel, unless --stereo is given
{
  printf 'RIFF\244\076\000\000WAVEfmt \020\000\000\000\001\000\002\000\240\017\000\000\100\037\000\000\002\000\010\000'
  printf 'data\200\076\000\000'
  printf '%b' "$(awk 'BEGIN {
    for (i = 0; i < 8000; i++) { v = 100 * (int(i / 50) % 2 ? -1 : 1); printf "\\0%o\\0%o", 128 + v, 128 - v }
  }')"
} >"$work/opposed.wav"
run 2 envelope "$work/opposed.wav" --below "80 Hz"
err "silent"
run 0 envelope "$work/opposed.wav" --below "80 Hz" --stereo
out "channels kept apart"
run 0 envelope "$work/opposed.wav"
run 0 envelope "$work/square.wav" -o - --window 100ms
[ "$(wc -l <"$work/out")" -eq 22 ] || complain "20 windows of 100 ms, a header and an end were wanted"

# played by a run, from the envelope and from the recording itself: the same
for source in "envelope = square.csv" "recording = square.wav"; do
  { cat examples/reference/ten-line.ini; printf '\n[programme music]\n%s\n' "$source"; } >"$work/system.ini"
  printf 'time_s,engine_rpm\n0,800\n20,800\n' >"$work/profile.csv"
  run 0 simulate --spread 0 "$work/system.ini" "$work/profile.csv" --format json
  grep -oE '"(min_v|mean_a|output_j)": [0-9.]+' "$work/out" | cut -c1-18 >"$work/${source%% *}.txt"
done
cmp "$work/envelope.txt" "$work/recording.txt" || complain "the envelope plays otherwise than its recording"

# truncated: reported, and used as far as it goes; a run refuses it
head -c 8000 "$work/square.wav" >"$work/cut.wav"
run 0 envelope "$work/cut.wav"
err "warning: $work/cut.wav: ends after 0.995 s of the 2 s that it declares; the rest is missing"
{ cat examples/reference/ten-line.ini; printf '\n[programme music]\nrecording = cut.wav\n'; } >"$work/system.ini"
run 2 simulate "$work/system.ini" "$work/profile.csv"
err "cut.wav: is cut short or damaged after 0.995 s"

# styles by name and by file; a programme's own value overrides the style's
for style in clipped "held bass" held-bass kick folk dance spoken steady-tone profiles/style-kick.ini; do
  case $style in */*) style="$PWD/$style" ;; esac
  run 0 check examples/reference/ten-line.ini --set "programme music.style = $style"
  out "$style"
done
run 0 check examples/reference/ten-line.ini --set "programme music.style = kick" \
  --set "programme music.crest factor = 12 dB"
run 2 check examples/reference/ten-line.ini --set "programme music.style = kik"
err "programme music.style: kik: no style of this name; did you mean 'kick'?"
run 2 check examples/reference/ten-line.ini --set "programme music.style = spoken" \
  --set "programme music.crest factor = 4 dB"
err "quiet passages leave a mean of 0.4917 of the loudest"
run 2 check examples/reference/ten-line.ini --set "programme music.phrases = 0.5"
err "phrases"
run 2 check examples/reference/ten-line.ini --set "programme music.recording = none.ogg"
err "programme music.recording: none.ogg: No such file or directory"
run 2 check examples/reference/ten-line.ini --set "programme music.below = 80 Hz"
err "'below' is for 'recording' only"

run 2 envelope "$work/none.wav"
err "none.wav: No such file or directory"
run 2 envelope "$work/square.csv"
err "square.csv: cannot be read as a recording"
run 2 envelope "$work/square.wav" --below 80
err "--below 80: write a value with its unit (Hz"
run 2 envelope "$work/square.wav" --below 5000Hz
err "crossover: must be below half of the sampling rate, 4000 Hz"
run 2 envelope "$work/square.wav" -o "$work/square.wav"
err "is an input of this command: not overwritten"
run 2 envelope "$work/square.wav" --amplifier examples/reference/ten-line.ini:bas
err "has no amplifier \`bas\`; it has \`bass\`"
run 4 envelope "$work/square.wav" -o "$work/none/square.csv"
echo "envelope: all as wanted"

finish
