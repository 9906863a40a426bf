#!/bin/sh
# A job is reproducible from its report alone: what every report says of its making, the same bits from HTML and JSON, files that are
# only named, reports that were changed, cut or made by something else.
. tests/journeys/support/expect.sh

van=examples/van-800w-8awg
jobs=$work/jobs
TMPDIR=$work
export TMPDIR
mkdir -p "$jobs/styles"
same() { cmp -s "$1" "$2" || complain "$asked: $3"; }
printf 'time_s,engine_rpm,programme,level_db\n0,800,silence,0\n0.5,800,drums,0\n1.5,2300,drums,-3\n2.5,2300,drums,-3\n' >"$jobs/p.csv"

# the van from its page and its JSON, without the files it was made from; options go along, those of the command line come after
cp $van/system.ini "$jobs/van.ini"
run 0 simulate "$jobs/van.ini" "$jobs/p.csv" --set "cable amplifier feed.size = 4 AWG" --seed 3 --spread 0 -f json -o "$jobs/van.json"
run 0 report "$jobs/van.ini" "$jobs/p.csv" --set "cable amplifier feed.size = 4 AWG" --seed 3 --spread 0 --quick --date "1 May 2030" \
  --note 'A </script><!-- & "B"' -o "$jobs/van.html"
rm "$jobs/van.ini" "$jobs/p.csv"
run 0 simulate --from "$jobs/van.json" -f json; same "$work/out" "$jobs/van.json" "not the same JSON from the JSON"; err "run again to the same bits"
run 0 simulate --from "$jobs/van.html" -f json; same "$work/out" "$jobs/van.json" "not the same JSON from the page"
run 0 report --from "$jobs/van.html"; same "$work/out" "$jobs/van.html" "not the same page"
run 0 simulate -q --from "$jobs/van.html" --seed 4 --spread 0 -f json; out '"--seed=4"'; silent_err
if cmp -s "$work/out" "$jobs/van.json"; then complain "another seed plays the same music"; fi
run 0 check "$jobs/van.html" "$jobs/van.json"
tr -s ' \n' ' ' <"$work/out" >"$work/flat"
mv "$work/flat" "$work/out"
out "unchanged since it was written"; out 'report --set "cable amplifier feed.size = 4 AWG" --seed=3'
out "system: $jobs/van.ini, $(wc -c <$van/system.ini) bytes, held in the report"

# the hashes are those of anybody's program
if command -v sha256sum >/dev/null 2>&1; then
  grep -q "\"sha256\": \"$(sha256sum <$van/system.ini | cut -c1-64)\"" "$jobs/van.json" || complain "not the SHA-256 of the system file"
fi
if command -v python3 >/dev/null 2>&1; then
  python3 - "$jobs/van.json" "$jobs/van.html" "$van/system.ini" <<'PY' || complain "the hashes or the block are not as documented"
import hashlib, json, re, sys
canon = lambda part: hashlib.sha256(json.dumps(part, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
report = json.load(open(sys.argv[1]))
page = open(sys.argv[2], newline="").read()
blocks = re.findall(r'(?s)<script type="application/json" id="made-from">(.*?)</script>', page)
assert len(blocks) == 1 and not re.search(r"[<>&]", blocks[0])
for made in (report["made_from"], json.loads(blocks[0])):
    job = {key: made[key] for key in made if key not in ("sha256", "report_sha256")}
    assert canon(job) == made["sha256"], "job"
    assert made["tailvolt"] and made["files"][0]["text"] == open(sys.argv[3]).read()
before = page[:page.index('<script type="application/json"')]
assert hashlib.sha256(before.encode()).hexdigest() == made["report_sha256"], "page"
assert made["sha256"][:16] in before
PY
fi

# text: the job and its files, each with its hash; the other studies
printf 'time_s,engine_rpm,programme\n0,800,music\n2,800,music\n' >"$work/q.csv"
run 0 simulate examples/reference/ten-line.ini "$work/q.csv" --spread 0
made_by() { sed -n '/^MADE BY/,$p' "$work/out" | tr -s ' \n' ' ' >"$work/flat"; }
hash_of() { sha256sum "$1" | cut -c 1-16; }
made_by
if command -v sha256sum >/dev/null 2>&1; then
  files="ten-line.ini $(hash_of examples/reference/ten-line.ini), q.csv $(hash_of "$work/q.csv")"
  grep -q "^MADE BY tailvolt [0-9.]*, job [0-9a-f]\\{16\\}: simulate --spread=0; $files \$" "$work/flat" || complain "the last lines: $(cat "$work/flat")"
fi
sed -n '/^MADE BY/,$p' "$work/out" | awk 'length > 80 { exit 1 }' || complain "a line is wider than 80 columns"
cp "$work/out" "$work/sim.txt"
for command in check simulate "simulate --from"; do
  run 2 $command "$work/sim.txt"
  err "sim.txt: is a text report of tailvolt: it names what it was made from"; err "ask for -f json"; silent_out
done
run 0 simulate examples/reference/ten-line.ini "$work/q.csv" --spread 0 --details; out "; ten-line.ini "
sed -n '/^MADE BY/,$p' "$work/out" | awk 'length > 100 { exit 1 }' || complain "a line is wider than 100 columns"
# what does not hold what it was made from says which command wrote it
examples=examples/as-measured
run 0 check examples/reference/ten-line.ini -f json -o "$work/of-check.json"
run 0 compare $examples/system.ini $examples/log.csv -f json -o "$work/of-compare.json"
printf 'reading,value\nrest: battery post > ground,12.6 V\n' >"$work/readings.csv"
run 0 measure examples/reference/ten-line.ini --spread 0 --readings "$work/readings.csv" -f json -o "$work/of-measure.json"
run 0 measure examples/reference/ten-line.ini --spread 0 -f json -o "$work/of-measure.plan.json"
run 0 match $examples/system.ini $examples/log.csv --fit "alternator.set point" -f json -o "$work/of-match.json"
run 2 check "$work/of-measure.plan.json"; err "was written by \`tailvolt measure\`"; silent_out
for kind in check compare measure match; do
  run 2 check "$work/of-$kind.json"; err "of-$kind.json: was written by \`tailvolt $kind\`, whose JSON does not hold what it was made from"; silent_out
done
run 0 parked examples/reference/ten-line.ini --spread 0 --longest 10min -f json -o "$work/parked.json"
run 0 parked --from "$work/parked.json" -f json; same "$work/out" "$work/parked.json" "not the same evening"
run 0 vary examples/reference/ten-line.ini "$work/q.csv" "cable feed.size = 8 AWG, 4 AWG"; out "MADE BY tailvolt"
run 0 vary examples/reference/ten-line.ini "$work/q.csv" "cable feed.size = 8 AWG, 4 AWG" -f json; out '"keys": ["cable feed.size = 8 AWG, 4 AWG"]'

# a variation, without its files; that of any report, with keys given besides; a resumed one
cp examples/reference/ten-line.ini "$work/ten.ini"
cp "$work/q.csv" "$work/r.csv"
sizes="cable feed.size = 8 AWG, 4 AWG"
run 0 vary "$work/ten.ini" "$work/r.csv" "$sizes" "vehicle.base load = 5 A | 25 A" --parked --seed 3 -o "$work/vary.json"
rm "$work/ten.ini" "$work/r.csv"
run 0 vary --from "$work/vary.json" -f json; same "$work/out" "$work/vary.json" "not the same variation"; silent_err
run 0 vary --from "$work/vary.json" --threads 1 -o "$work/again.json"; same "$work/again.json" "$work/vary.json" "not the same variation in a file"
run 0 vary --from "$work/vary.json"; out "4 of 4 combinations"
made_by
grep -q 'MADE BY .*: vary "cable feed.size = 8 AWG, 4 AWG" "vehicle.base load = 5 A | 25 A" --parked --seed=3; ten.ini [0-9a-f]*, r.csv [0-9a-f]* $' "$work/flat" ||
  complain "keys and files are not said: $(cat "$work/flat")"
run 0 check "$work/vary.json"; out "tailvolt vary --from"; out '"vehicle.base load = 5 A | 25 A"'
run 0 simulate --from "$work/vary.json" --spread 0; out "simulate --seed=3 --spread=0"
run 0 vary examples/reference/ten-line.ini "$work/q.csv" "$sizes" --set "joint body stud.resistance = 2 mohm" -f csv
cp "$work/out" "$work/rows.csv"
run 0 report examples/reference/ten-line.ini "$work/q.csv" --set "joint body stud.resistance = 2 mohm" --spread 0 --quick -o "$work/one.html"
run 0 vary --from "$work/one.html" "$sizes" -f csv; same "$work/out" "$work/rows.csv" "not the rows of its job"
run 2 vary --from "$work/one.html"; err "one.html: varies nothing"
run 2 vary --from "$work/vary.json" --set "cable feed.length = 0 m"; err "out of range"; silent_out
run 2 vary --from "$work/vary.json" -o "$work/vary.json"; err "not overwritten"
run 0 report examples/reference/ten-line.ini --spread 0 --quick -o "$work/days.html"
run 2 vary --from "$work/days.html" "$sizes"; err "was made from no profile"
run 0 simulate examples/reference/ten-line.ini "$work/q.csv" "$work/q.csv" --spread 0 -f json -o "$work/days.json"
run 2 vary --from "$work/days.json" "$sizes"; err "was made from more than one profile"
run 2 vary --from "$work/vary.json" "cable feed.sizes = 8 AWG"; err "sizes"

# files that a system names: styles and envelopes are held, a recording is found by its hash; bytes that are no UTF-8; hostile names
printf '[style]\ncrest factor = 9 dB\ntempo = 100 /min\n' >"$jobs/styles/own.ini"
{
  printf '# caf\351\n[vehicle]\nname = </script><script>alert(1)</script><!--\342\200\256\n'
  sed '/^;/d' examples/reference/ten-line.ini
  printf '[programme one]\nrecording = song.wav\n[programme two]\nstyle = styles/own.ini\n[programme three]\nstyle = kick\n'
} >"$jobs/car.ini"
printf 'time_s,engine_rpm,programme\n0,800,one\n1,800,two\n2,800,three\n3,800,three\n' >"$jobs/car.csv"
# a WAV of two seconds at 8 kHz: a square wave at half of full scale, every other tenth of a second
awk 'BEGIN {
  printf "RIFF\\044\\175\\000\\000WAVEfmt \\020\\000\\000\\000\\001\\000\\001\\000\\100\\037\\000\\000\\200\\076\\000\\000\\002\\000\\020\\000data\\000\\175\\000\\000"
  for (i = 0; i < 16000; i++) printf "\\000\\%03o", int(i / 800) % 2 ? (int(i / 50) % 2 ? 300 : 100) : 0 }' >"$work/wav"
printf "$(cat "$work/wav")" >"$jobs/song.wav"
run 0 simulate "$jobs/car.ini" "$jobs/car.csv" --spread 0 -f json -o "$work/car.json"
run 0 vary "$jobs/car.ini" "$jobs/car.csv" "cable feed.size = 8 AWG, 4 AWG" -o "$work/cars.json"
run 0 vary "$jobs/car.ini" "$jobs/car.csv" "programme two.style = kick, styles/own.ini" -o "$work/styles.json"
mv "$jobs" "$work/gone"
run 2 vary --from "$work/cars.json"; err "song.wav is needed and not there"; silent_out
run 2 simulate --from "$work/car.json"; err "song.wav is needed and not there"; silent_out
cp "$work/gone/song.wav" "$work/song.wav"
run 0 simulate --from "$work/car.json" -f json; same "$work/out" "$work/car.json" "not the same with a recording beside the report"
run 0 vary --from "$work/cars.json" -f json; same "$work/out" "$work/cars.json" "not the same variation with a style and a recording"
# the folder that its files are put into does not outlive a signal, whenever that comes
mkdir "$work/empty"
for after in 0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19; do
  for each in 1 2; do
    TMPDIR=$work/empty "$tailvolt" vary --from "$work/cars.json" -f json >"$work/out" 2>"$work/err" &
    pid=$!
    sleep "0.0$(printf %02d "$after")"
    kill -TERM $pid 2>/dev/null || true
    { wait $pid; } 2>/dev/null || true
    [ -z "$(ls "$work/empty")" ] || { complain "a signal after $after ms leaves $(ls "$work/empty") behind"; rm -r "$work/empty"/*; }
  done
done
run 0 vary --from "$work/styles.json" -f json; same "$work/out" "$work/styles.json" "not the same variation of styles"
long=$work/$(printf '%080d' 0)
mkdir "$long"
TMPDIR=$long run 2 vary --from "$work/styles.json"; err "set TMPDIR to a folder with a shorter name"; silent_out
[ -z "$(ls "$long")" ] || complain "files of the run were left behind in a long folder"
run 2 vary --from "$work/styles.json" "cable feed.size = 8 AWG, 4 AWG"; err "varies styles/own.ini, which is a file of its own"; silent_out
ls -d "$work"/tailvolt-* >/dev/null 2>&1 && complain "files of the run were left behind"
printf x >>"$work/song.wav"
run 2 simulate --from "$work/car.json"; err "song.wav is another file"; silent_out
run 2 check "$work/car.json"; err "song.wav is another file"; silent_out
mv "$work/gone" "$jobs"
run 0 simulate --from "$work/car.json" -f json; same "$work/out" "$work/car.json" "not the same with a recording where it was"

# a long profile is named only
awk 'BEGIN { print "time_s,supply_a:bass"; for (i = 0; i < 60000; i++) printf "%.3f,%d.00000000000\n", i / 1000, 10 + i % 7 }' >"$work/log.csv"
[ "$(wc -c <"$work/log.csv")" -gt 1048576 ] || complain "the log is not long"
run 0 simulate examples/reference/ten-line.ini "$work/log.csv" --spread 0 --time-step 5ms -f json -o "$work/log.json"
[ "$(wc -c <"$work/log.json")" -lt 100000 ] || complain "a long profile is held in the report"
run 0 simulate --from "$work/log.json" -f json; same "$work/out" "$work/log.json" "not the same from a long profile"
mv "$work/log.csv" "$work/log"
run 2 simulate --from "$work/log.json"; err "log.csv is needed and not there"

# inputs from a pipe are held like any others
code=0
"$tailvolt" simulate - "$work/q.csv" --spread 0 -f json <examples/reference/ten-line.ini >"$work/piped.json" || code=$?
[ $code -eq 0 ] || complain "a piped system: exit code $code"
run 0 simulate --from "$work/piped.json" -f json; same "$work/out" "$work/piped.json" "not the same from a pipe"

# changed, cut, foreign: refused by name; where only the rest was changed the job still runs
bad=$work/bad.html
refused() { run 2 simulate --from "$bad" -f json; err "bad.html: "; err "$1"; silent_out; messages_are_named; }
sed 's/4 AWG/2 AWG/' "$jobs/van.html" >"$bad"; refused "was changed after it was made"
head -c 3000 "$jobs/van.html" >"$bad"; refused "cut short"
sed 's/"report_sha256.*//' "$jobs/van.html" >"$bad"; refused "cut short"
head -c 3000 "$jobs/van.json" >"$bad"; refused "damaged or cut short"
grep -v made-from "$jobs/van.html" >"$bad"; refused "is no report of tailvolt"
cat "$jobs/van.html" "$jobs/van.html" >"$bad"; refused "says twice"
echo '{"runs": []}' >"$bad"; refused "is no report of tailvolt"
cp README.md "$bad"; refused "neither HTML nor JSON"
: >"$bad"; refused "neither HTML nor JSON"
run 2 simulate --from nowhere.html; err "nowhere.html: cannot be read"
run 2 simulate --from "$jobs/van.html" $van/system.ini; err "brings its own files"
run 2 simulate --from "$jobs/van.html" -o "$jobs/van.html"; err "not overwritten"
sed 's/<td>/<td> /' "$jobs/van.html" >"$bad"
run 2 check "$bad"; err "was changed after it was made, all but what it was made from"; silent_out
run 0 report --from "$bad"; err "was changed"; same "$work/out" "$jobs/van.html" "not the true page of a changed one"

# made by hand: another version is said, what no report holds is refused
if command -v python3 >/dev/null 2>&1; then
  cat >"$work/forge.py" <<'PY'
import hashlib, json, sys
report = json.load(open(sys.argv[1]))
made = report["made_from"]
exec(sys.argv[3])
job = {key: made[key] for key in made if key not in ("sha256", "report_sha256")}
made["sha256"] = hashlib.sha256(json.dumps(job, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
json.dump(report, open(sys.argv[2], "w"))
PY
  forged() { python3 "$work/forge.py" "$jobs/van.json" "$bad" "$1"; }
  forged 'made["tailvolt"] = "9.8.7"'
  run 0 simulate --from "$bad"; err "was made by tailvolt 9.8.7, this is"
  forged 'made["options"].append("--output=x.html")'; refused "holds the option --output"
  forged 'made["options"].append("--prices=/etc/passwd")'
  run 2 remedy --from "$bad"; err "does not say what --prices /etc/passwd was"
  forged 'made["options"].append("--blow=yes")'; refused "holds the option --blow with a value"
  forged 'made["files"].append(dict(made["files"][0]))'; refused "in a form that is not known"
  forged 'made["files"][0]["text"] += " "'; refused "in a form that is not known"
  forged 'made["files"][0]["use"] = "spare"'; refused "in a form that is not known"
  forged 'del made["files"][0]'; refused "holds no system file"
  forged 'made["state_hashes"] = ["0123456789abcdef"]'
  run 0 simulate --from "$bad" --spread 0; err "it ends in other bits"
  # a system that names a file of which the report says nothing
  forged 't = made["files"][0]; t["text"] += "[programme x]\nstyle = '"$jobs/styles/own.ini"'\n"; b = t["text"].encode(); t["bytes"] = len(b); t["sha256"] = hashlib.sha256(b).hexdigest()'
  refused "its system names $jobs/styles/own.ini"
fi
finish
