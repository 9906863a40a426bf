// ---- start: files, examples -------------------------------------------------------------------------------------------------------------

const TEXT_MOST_BYTES = 20e6;

async function textOf(file) {
  if (file.size > TEXT_MOST_BYTES) {
    fault({ error: `${file.name} is too large to be a system file or a profile` }, {});
    return null;
  }
  return new TextDecoder().decode(await file.arrayBuffer());
}

// A system file, with those of the files beside it that it names: envelopes, styles, recordings.
async function takeSystem(file, beside = []) {
  const text = await textOf(file);
  if (text === null) return [];
  const named = beside.filter((one) => one !== file && text.includes(one.name)), files = [];
  for (const one of named) files.push([one.name, await bytesOf(one)]);
  openJob({ text, name: plainName(file.name) || "system.ini", profile: null, files });
  return named;
}
const isSound = (file) => file.type.startsWith("audio/") || /\.(wav|mp3|ogg|flac|m4a|opus|aac)$/i.test(file.name);
async function bytesOf(file) {
  if (!isSound(file)) return new Uint8Array(await file.arrayBuffer());
  try {
    return (await decode(file)).wav;
  } catch { return new Uint8Array(0); }
}
async function takeProfile(file) {
  const text = await textOf(file);
  if (text === null) return;
  endSong("again");
  job.profile = text;
  job.profileName = plainName(file.name) || "profile.csv";
  el("no-profile").hidden = false;
  changed({ fresh: true });
}
el("no-profile").addEventListener("click", () => {
  job.profile = null;
  el("no-profile").hidden = true;
  changed({ fresh: true });
});

// What is dropped is taken by its ending; several at once belong together.
async function takeFiles(files) {
  const list = [...files], used = new Set();
  const ends = (ending) => list.find((file) => !used.has(file) && file.name.toLowerCase().endsWith(ending));
  const system = ends(".ini") || (list.length === 1 && !isSound(list[0]) && !ends(".csv") ? list[0] : null);
  if (system) {
    used.add(system);
    for (const one of await takeSystem(system, list)) used.add(one);
  }
  const profile = ends(".csv");
  if (profile) await takeProfile(profile);
  const song = list.find((file) => !used.has(file) && isSound(file));
  if (song) await takeSong(song);
}

const takers = { system: (file) => takeSystem(file), profile: takeProfile, recording: takeSong, after: takeAfter };
for (const [name, take] of Object.entries(takers)) {
  const input = document.querySelector(`input[name="${name}"]`);
  input.addEventListener("change", async () => {
    const file = input.files[0];
    if (file) await take(file);
    input.value = "";
  });
}
let over = 0;
const drops = (event) => event.dataTransfer && [...event.dataTransfer.types].includes("Files");
addEventListener("dragenter", (event) => { if (drops(event)) { over++; el("drop").hidden = false; event.preventDefault(); } });
addEventListener("dragover", (event) => { if (drops(event)) event.preventDefault(); });
addEventListener("dragleave", () => { if (over > 0 && --over === 0) el("drop").hidden = true; });
addEventListener("drop", (event) => {
  over = 0;
  el("drop").hidden = true;
  if (!drops(event)) return;
  event.preventDefault();
  takeFiles(event.dataTransfer.files);
});

const examples = [...document.querySelectorAll("script.example")].map((node) => ({ title: node.dataset.title, system: node.dataset.system,
  text: node.textContent, profileName: node.dataset.profile }));
function openExample(k) {
  const example = examples[k];
  const profile = example.profileName ? document.querySelector(`script.profile[data-profile="${example.profileName}"]`).textContent : null;
  el("no-profile").hidden = profile === null;
  return openJob({ text: example.text, name: example.system, profile, profileName: example.profileName });
}
examples.forEach((example, k) => el("examples").append(make("button", { type: "button", "data-example": example.system, onclick: () => openExample(k) }, example.title)));
