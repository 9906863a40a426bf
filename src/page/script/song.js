// ---- your own song ----------------------------------------------------------------------------------------------------------------

const SONG_MOST_BYTES = 300e6, SAMPLES_MOST = 60e6, RATE = 44100, RATE_OF_LONG_ONES = 12000, SONG_MOST_S = 3600, SONG_LEAST_S = 1;
const UNSEEN_MOST_BYTES = 20e6; // of a file that does not say how long it is
const ALL_OF_IT = 210; // right end of the crossover's slide
let sound = null; // AudioContext, source, gain

// WAV of 32-bit floats: how the library is handed what the browser has decoded.
function wavOf(buffer) {
  const channels = Math.min(2, buffer.numberOfChannels), frames = buffer.length;
  const bytes = new ArrayBuffer(44 + 4 * channels * frames), out = new DataView(bytes);
  const text = (at, letters) => [...letters].forEach((letter, k) => out.setUint8(at + k, letter.charCodeAt(0)));
  text(0, "RIFF"); out.setUint32(4, 36 + 4 * channels * frames, true); text(8, "WAVEfmt ");
  out.setUint32(16, 16, true); out.setUint16(20, 3, true); out.setUint16(22, channels, true);
  out.setUint32(24, buffer.sampleRate, true); out.setUint32(28, 4 * channels * buffer.sampleRate, true);
  out.setUint16(32, 4 * channels, true); out.setUint16(34, 32, true); text(36, "data"); out.setUint32(40, 4 * channels * frames, true);
  const samples = new Float32Array(bytes, 44);
  for (let c = 0; c < channels; c++) {
    const from = buffer.getChannelData(c);
    for (let k = 0; k < frames; k++) samples[k * channels + c] = from[k];
  }
  return new Uint8Array(bytes);
}

// How long a file says that it is, without decoding it; NaN = it does not say.
function claimed(file) {
  return new Promise((answer) => {
    const address = URL.createObjectURL(file), player = new Audio();
    const say = () => {
      URL.revokeObjectURL(address);
      player.removeAttribute("src");
      answer(length);
    };
    let length = NaN;
    player.preload = "metadata";
    player.onloadedmetadata = () => { length = player.duration; say(); };
    player.onerror = say;
    setTimeout(say, 5000);
    player.src = address;
  });
}

// Of what was decoded, the file that it was decoded from: a report names that one.
const originals = new WeakMap();

// Decoded it takes many times its size, so its length is asked for first; a long one is decoded at a lower rate.
async function decode(file) {
  if (file.size > SONG_MOST_BYTES) throw new Error("too large for this page");
  const length = file.size > 0 ? await claimed(file) : NaN;
  if (length > SONG_MOST_S) throw new Error("longer than an hour: cut it first");
  if (!(length >= 0) && file.size > UNSEEN_MOST_BYTES) throw new Error("does not say how long it is");
  const rate = 2 * RATE * (length || 0) > SAMPLES_MOST ? RATE_OF_LONG_ONES : RATE;
  const whole = await new OfflineAudioContext(2, 1, rate).decodeAudioData(await file.arrayBuffer());
  if (whole.duration > SONG_MOST_S) throw new Error("longer than an hour: cut it first");
  if (!(whole.duration >= SONG_LEAST_S)) throw new Error("shorter than a second");
  const wav = wavOf(whole);
  originals.set(wav, file);
  return { whole, wav };
}

const plainName = (name) => name.replace(/[^\p{L}\p{N}._ -]/gu, "_").slice(0, 60);
const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

// The programme and amplifier that play: the worst one's, as the answer has it; the first where there is none yet.
function playing() {
  const parts = state.loaded ? state.loaded.parts : [];
  return { music: parts.find((part) => part.kind === "music"), amplifiers: parts.filter((part) => part.kind === "amplifier"),
    engine: parts.find((part) => part.section === "engine") };
}

// A profile whose driving outlasts the song keeps it: its time, engine, weather and loads without what says how the music plays. NULL
// where it is shorter, or no plain table.
const OF_MUSIC = /^(programme|level_db|power|output_w|supply_w|supply_a|note)/;
function drivingOf(profile, seconds) {
  if (profile === null || profile.includes('"')) return null;
  const rows = profile.replace(/^\ufeff/, "").split(/\r?\n/).filter((line) => line.trim() !== "" && !line.startsWith("#")).map((line) => line.split(","));
  const kept = rows.length > 2 ? rows[0].map((name, k) => [name.trim(), k]).filter(([name]) => !OF_MUSIC.test(name)).map(([, k]) => k) : [];
  const time = rows.length > 2 ? rows[0].findIndex((name) => name.trim() === "time_s") : -1;
  if (time < 0 || Number(rows[1][time]) !== 0 || !(Number(rows[rows.length - 1][time]) >= seconds)) return null;
  return `${rows.map((row) => kept.map((k) => row[k]).join(",")).join("\n")}\n`;
}

async function takeSong(file) {
  const note = el("song-note");
  note.textContent = `Decoding ${file.name} …`;
  try {
    const { whole, wav } = await decode(file);
    if (job.text.includes(file.name)) {
      // the system file names it already
      job.files.set(file.name, wav);
      note.textContent = `${file.name}: the system file plays it.`;
      changed({ fresh: true });
      return;
    }
    const { music, amplifiers, engine } = playing();
    if (!music || !amplifiers.length) throw new Error("no music plays in this system");
    endSong("again");
    const idle = engine ? engine.fields.find((of) => of.key === "idle speed").value.replace(/[^\d.]/g, "") : "800";
    state.song = { title: file.name, seconds: whole.duration, whole, key: music.section, amplifiers: amplifiers.map((part) => part.section),
      profile: job.profile, profileName: job.profileName, settings: new Map(job.settings), files: new Map(job.files), trace: null };
    const name = plainName(file.name) || "song";
    job.files.set(name, wav);
    job.settings.set(`${music.section}.recording`, name);
    const driving = drivingOf(job.profile, whole.duration);
    job.profile = driving || `time_s,engine_rpm\n0,${idle}\n${whole.duration.toFixed(3)},${idle}\n`;
    job.profileName = driving ? `${job.profileName}, with ${name}` : `${name}, engine idling`;
    el("song-box").hidden = false;
    note.textContent = `${file.name}, ${clock(whole.duration)}: the run now plays it, ${driving ? "over and over, with the driving of the load profile."
      : state.song.profile === null ? "once, with the engine idling." : "once, with the engine idling: the load profile is shorter than the song."}`;
    songSettings();
  } catch (problem) {
    note.textContent = problem.name === "EncodingError" ? `${file.name} cannot be decoded by this browser.` : `${file.name}: ${problem.message}`;
  }
}

function songSettings() {
  const song = state.song;
  if (!song) return;
  const level = Number(el("song-level").value), below = Number(el("song-below").value);
  el("song-level-out").textContent = `${level} dB`;
  el("song-below-out").textContent = below >= ALL_OF_IT ? "all of it" : `${below} Hz`;
  for (const amplifier of song.amplifiers) job.settings.set(`${amplifier}.level offset`, `${level} dB`);
  if (below >= ALL_OF_IT) job.settings.delete(`${song.key}.below`);
  else job.settings.set(`${song.key}.below`, `${below} Hz`);
  if (sound) sound.gain.gain.value = Math.min(1, 10 ** (level / 20));
  song.trace = null;
  changed({});
  songTrace(job.revision);
}

// The whole song as a trace: what moves while it plays.
async function songTrace(revision) {
  const answer = await lanes.long.ask("play", jobNow(), { every_s: 0.02, amplifier: 0 }, (done) => {
    el("song-now").textContent = `following the music: ${Math.round(100 * done)} %`;
  });
  if (!answer || revision !== job.revision || !state.song) return;
  el("song-now").textContent = "";
  if (!answer.ok) {
    const fault = answer.faults && answer.faults[0];
    el("song-note").textContent = `${state.song.title}: ${answer.error || (fault ? fault.message : "this music cannot be followed")}`;
    return;
  }
  state.song.trace = answer;
  showTrace(answer);
}

async function playSong() {
  const song = state.song;
  if (!song) return;
  stopSong();
  const context = new AudioContext();
  const source = new AudioBufferSourceNode(context, { buffer: song.whole });
  const gain = new GainNode(context, { gain: Math.min(1, 10 ** (Number(el("song-level").value) / 20)) });
  source.connect(gain).connect(context.destination);
  const begun = context.currentTime;
  sound = { context, source, gain };
  source.onended = () => { if (sound && sound.source === source) stopSong(); };
  source.start();
  moves.clock = () => {
    const at = Math.min(song.seconds, Math.max(0, context.currentTime - begun));
    el("song-time").textContent = clock(at);
    if (song.trace) {
      const row = Math.min(song.trace.rows - 1, Math.round(at / moves.every)) * COLUMNS;
      el("song-now").textContent = `${song.trace.trace[row + CELL.amplifier].toFixed(1)} V at the amplifier, ${song.trace.trace[row + CELL.takes].toFixed(0)} A`;
    }
    return at;
  };
  if (song.trace) showTrace(song.trace);
  startMoving();
}
function stopSong() {
  if (!sound) return;
  sound.source.onended = null;
  try { sound.source.stop(); } catch { /* it had ended */ }
  sound.context.close();
  sound = null;
  moves.clock = null;
}
// "gone": another job has taken its place, and nothing of the old one comes back.
function endSong(how) {
  const song = state.song;
  stopSong();
  if (!song) return;
  state.song = null;
  if (how !== "gone") {
    job.profile = song.profile;
    job.profileName = song.profileName;
    job.settings = song.settings;
    job.files = song.files;
  }
  const goOn = leaving(el("song-box"), document.querySelector('input[name="recording"]'));
  el("song-box").hidden = true;
  goOn();
  el("song-note").textContent = "";
  if (how === undefined) changed({ fresh: true });
}
el("song-play").addEventListener("click", playSong);
el("song-stop").addEventListener("click", stopSong);
el("song-away").addEventListener("click", () => endSong());
for (const id of ["song-level", "song-below"]) {
  el(id).addEventListener("input", () => {
    if (sound && id === "song-level") sound.gain.gain.value = Math.min(1, 10 ** (Number(el(id).value) / 20));
    el("song-level-out").textContent = `${el("song-level").value} dB`;
    const below = Number(el("song-below").value);
    el("song-below-out").textContent = below >= ALL_OF_IT ? "all of it" : `${below} Hz`;
  });
  el(id).addEventListener("change", songSettings);
}
