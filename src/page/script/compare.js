// ---- before and after -----------------------------------------------------------------------------------------------------------

// What a side is: the whole job, its parts, its answer.
function sideNow() {
  return { revision: job.revision, text: job.text, name: job.name, settings: new Map(job.settings), profile: job.profile,
    profileName: job.profileName, files: new Map(job.files), loaded: state.loaded, answer: state.answer, parked: state.parked };
}

// Keys of both sides whose values differ; a part that only one has counts whole.
function differences(before, after) {
  const values = (side) => {
    const all = new Map();
    for (const part of side.loaded.parts) for (const of of part.fields) all.set(`${part.section}: ${of.key}`, of.value);
    return all;
  };
  const one = values(before), other = values(after), rows = [];
  for (const key of new Set([...one.keys(), ...other.keys()]))
    if (one.get(key) !== other.get(key)) rows.push([key, one.get(key) ?? "none", other.get(key) ?? "none"]);
  return rows;
}

function showSides() {
  const before = state.before, after = sideNow();
  const body = document.querySelector("#sides tbody");
  body.replaceChildren();
  if (!before || !before.answer || !after.answer) return;
  const line = (label, one, other) => body.append(make("tr", {}, make("th", { scope: "row" }, label), make("td", {}, one), make("td", {}, other)));
  line("verdict", before.answer.lines[0].text, after.answer.lines[0].text);
  line("lowest", `${before.answer.lowest} V`, `${after.answer.lowest} V`);
  line("safety", before.answer.safety, after.answer.safety);
  for (const label of ["WHY", "CHARGE"]) {
    const text = (side) => (side.answer.lines.find((of) => of.label === label) || { text: "" }).text;
    line(label, text(before), text(after));
  }
  if (before.parked && before.parked.ok && after.parked && after.parked.ok) line("parked", before.parked.shown, after.parked.shown);
  const rows = differences(before, after);
  el("sides").classList.toggle("same", !rows.length);
  for (const [key, one, other] of rows) line(key, one, other);
  if (!rows.length) line("differences", "none", "none");
}

el("keep-before").addEventListener("click", () => { state.before = sideNow(); showSides(); });
el("back-before").addEventListener("click", () => {
  const before = state.before;
  if (!before) return;
  stopSong();
  Object.assign(job, { text: before.text, name: before.name, settings: new Map(before.settings), profile: before.profile,
    profileName: before.profileName, files: new Map(before.files) });
  changed({ fresh: true });
});
// Another file beside the one that is open: that one stays as "before".
async function takeAfter(file) {
  const before = state.answer ? sideNow() : state.before;
  const text = await textOf(file);
  if (text === null) return;
  openJob({ text, name: plainName(file.name) || "after.ini", profile: job.profile, profileName: job.profileName });
  state.before = before;
}
