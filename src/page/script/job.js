// ---- the job: texts, settings, files; every change of it is a new revision ----------------------------------------------------

let revisions = 0;
const job = { revision: 0, text: "", name: "system.ini", settings: new Map(), profile: null, profileName: "", files: new Map() };
const state = { loaded: null, answer: null, answerOf: 0, parked: null, moment: null, before: null, song: null, faulty: null };

// what a worker is given: plain, and the same object for the same revision
let handed = null;
function jobNow() {
  if (!handed || handed.revision !== job.revision)
    handed = { revision: job.revision, text: job.text, name: job.name, profile: job.profile, profileName: job.profileName,
      settings: [...job.settings].map(([key, value]) => `${key} = ${value}`), files: [...job.files],
      originals: [...job.files].filter(([, data]) => originals.has(data)).map(([name, data]) => [name, originals.get(data)]) };
  return handed;
}

const setState = (name) => { el("page").dataset.state = name; };
const stage = (text) => { el("stage").textContent = text; };

// A decimal comma between digits is a point: many keypads offer no other.
const plainNumber = (text) => text.trim().replace(/(\d),(\d)/g, "$1.$2").replace(/[\u0000-\u001f]/g, " ");

function openJob(given) {
  Object.assign(job, { text: given.text, name: given.name || "system.ini", profile: given.profile ?? null,
    profileName: given.profileName || "profile.csv", settings: new Map(given.settings || []),
    files: new Map((given.files || []).map(([name, text]) => [name, typeof text === "string" ? new TextEncoder().encode(text) : text])) });
  state.loaded = state.answer = state.parked = state.moment = state.faulty = null;
  state.before = null;
  if (state.song) endSong("gone");
  return changed({ fresh: true });
}

// One key of the system; an empty value takes the setting back.
function setValue(key, value) {
  const text = plainNumber(value);
  if (text === "") job.settings.delete(key);
  else {
    job.settings.delete(key);
    job.settings.set(key, text);
  }
  changed({ key });
}

let wait = 0;
// Everything follows from here: preview at once, the whole profile when the hand rests, then the rest.
function changed(how = {}) {
  job.revision = ++revisions;
  const revision = job.revision;
  for (const name of ["whole", "parked"]) lanes[name].stop();
  setState(state.moment && !how.fresh ? "preview" : "busy");
  keepJob();
  clearTimeout(wait);
  showHolds(null);
  delete el("run-lines").dataset.advised;
  if (how.fresh) {
    stage("Running the whole profile …");
    runWhole(revision);
    return glance(revision);
  }
  const shown = preview(revision, how);
  wait = setTimeout(async () => {
    await Promise.race([shown, new Promise((done) => setTimeout(done, 1000))]);
    if (revision === job.revision) runWhole(revision);
  }, 140);
  return shown;
}

// A first look, marked as a preview, while the whole profile runs.
async function glance(revision) {
  const answer = await lanes.quick.ask("glance", jobNow(), { span_s: 20 });
  if (answer && answer.ok && revision === job.revision && state.answerOf !== revision) showPreview(answer);
}

async function preview(revision, how) {
  const moment = state.moment;
  const answer = await lanes.quick.ask(moment ? "preview" : "load", jobNow(),
    moment ? { profile: moment.profile, moment_s: moment.time_s, span_s: 20, charge: moment.charge, amplifier: moment.amplifier } : {});
  if (!answer || revision !== job.revision) return;
  if (!answer.ok) return fault(answer, how);
  if (!moment || state.answerOf === revision) return;
  clearFault();
  setState("preview");
  stage("Preview: the worst 20 s of the last whole run.");
  showPreview(answer);
}

async function runWhole(revision) {
  const loading = lanes.whole.ask("load", jobNow());
  const loaded = await loading;
  if (!loaded || revision !== job.revision) return;
  if (!loaded.ok) return fault(loaded, {});
  const running = lanes.whole.ask("run", jobNow(), {}, (done) => stage(`Running the whole profile: ${Math.round(100 * done)} %`));
  // laid out while it runs
  clearFault();
  state.loaded = loaded;
  showParts();
  const answer = await running;
  if (!answer || revision !== job.revision) return;
  if (!answer.ok) return fault(answer, {});
  state.answer = answer;
  state.answerOf = revision;
  state.moment = momentOf(answer);
  if (!state.before) state.before = sideNow();
  setState("busy");
  showAnswer(answer);
  const asked = lanes.parked.ask("parked", jobNow(), {}, (done) => stage(`The whole profile was run. Playing parked: ${Math.round(100 * done)} %`));
  follow(revision);
  const parked = await asked;
  if (!parked || revision !== job.revision) return;
  state.parked = parked;
  showParked(parked);
  showSides();
  setState("ready");
  stage("The whole profile was run.");
}

// What needs more runs, when the answer is there.
async function follow(revision) {
  trace(revision);
  const advised = await lanes.whole.ask("advise", jobNow());
  if (!advised || revision !== job.revision) return;
  if (advised.ok) {
    state.answer = advised;
    showAnswer(advised);
  }
  // certainty comes last: a first share that is within a few points, then the full one
  el("holds-box").hidden = false;
  const drawn = (done) => `${Math.round(100 * done)} % drawn`;
  const first = await lanes.whole.ask("certainty", jobNow(), { quick: true }, (done) => { el("holds").textContent = drawn(done / 3); });
  if (!first || revision !== job.revision) return;
  if (first.ok) showFirstHolds(first);
  const sure = await lanes.whole.ask("certainty", jobNow(), {}, (done) => { if (!first.ok || !first.holds) el("holds").textContent = drawn(done); });
  if (!sure || revision !== job.revision) return;
  if (sure.ok) {
    state.answer = sure;
    showAnswer(sure);
  }
  showHolds(sure.ok ? sure : null);
  el("run-lines").dataset.settled = "yes";
}

// Where the worst moment was, and the charge of the batteries by then: what a preview starts from.
function momentOf(answer) {
  const loop = answer.loops[0];
  const run = answer.runs[answer.worst_run];
  if (!loop || !run) return null;
  const share = run.duration_s > 0 ? Math.min(1, Math.max(0, (loop.time_s - run.start_s) / run.duration_s)) : 0;
  return { profile: answer.worst_run, time_s: loop.time_s, amplifier: loop.amplifier_index,
    charge: run.batteries.map((of) => of.start_soc_pct + share * (of.end_soc_pct - of.start_soc_pct)).join(" ") };
}

async function trace(revision) {
  const moment = state.moment;
  if (!moment || state.song) return;
  const answer = await lanes.quick.ask("preview", jobNow(), { profile: moment.profile, moment_s: moment.time_s, span_s: 20,
    charge: moment.charge, amplifier: moment.amplifier });
  if (answer && answer.ok && revision === job.revision) showTrace(answer);
}

// A faulty file or value: said with its line, and the page lives on.
function fault(answer, how) {
  lanes.whole.stop();
  lanes.parked.stop();
  setState("fault");
  const list = answer.faults || [];
  const about = how.key && list.find((one) => one.key === how.key || one.file === "--set") ? how.key : null;
  state.faulty = about;
  const box = el("faults");
  box.replaceChildren();
  if (answer.error) box.append(make("p", {}, answer.error));
  const items = make("ul", {});
  for (const one of list) {
    const place = one.file === "--set" ? (one.key || "") : `${one.file}${one.line ? `, line ${one.line}` : ""}${one.column ? `, column ${one.column}` : ""}${one.key ? `, ${one.key}` : ""}`;
    items.append(make("li", {}, place ? `${place}: ` : "", one.value ? `${one.value}: ` : "", one.message));
  }
  if (answer.dropped > 0) items.append(make("li", {}, `and ${answer.dropped} more`));
  if (list.length) box.append(items);
  box.append(make("button", { type: "button", onclick: undoLast }, "Undo the last change"));
  box.hidden = false;
  stage(list.length === 1 ? list[0].message : list.length ? `${list.length} faults: see Start` : String(answer.error || "a fault"));
  if (about) markFault(about, (list.find((one) => one.key === about || one.file === "--set") || list[0]).message);
}
function clearFault() {
  if (el("faults").hidden && !state.faulty) return;
  const goOn = leaving(el("faults"), el("verdict"));
  el("faults").hidden = true;
  goOn();
  if (state.faulty) markFault(state.faulty, "");
  state.faulty = null;
}
function undoLast() {
  const last = [...job.settings.keys()].pop();
  if (last !== undefined) {
    job.settings.delete(last);
    changed({ key: last });
  } else openExample(0);
}

// Opt-in: the browser's own store, of this device alone.
const KEPT = "tailvolt job";
function keepJob() {
  if (!el("keep").checked) return;
  try {
    localStorage.setItem(KEPT, JSON.stringify({ text: job.text, name: job.name, profile: job.profile, profileName: job.profileName,
      settings: [...job.settings] }));
  } catch { /* a full or forbidden store keeps nothing */ }
}
function keptJob() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEPT));
    return kept && typeof kept.text === "string" ? kept : null;
  } catch { return null; }
}
