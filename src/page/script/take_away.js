// ---- take away ------------------------------------------------------------------------------------------------------------------------

function save(name, type, content) {
  const address = URL.createObjectURL(new Blob([content], { type }));
  const link = make("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60000);
}
const today = () => new Date().toLocaleDateString("en-GB", { day: "numeric", month: "long", year: "numeric" });
const stem = () => plainName((state.loaded && state.loaded.name) || job.name.replace(/\.[^.]*$/, "")).replace(/ +/g, "-") || "job";

// The picture of the worst beat on a canvas, as large as a slide.
function rasterise(svg) {
  return new Promise((answer, fail) => {
    const image = new Image();
    image.onload = () => {
      const canvas = make("canvas", { width: "1600", height: String(Math.round((1600 * image.height) / image.width) || 960) });
      const pen = canvas.getContext("2d");
      pen.fillStyle = "#ffffff";
      pen.fillRect(0, 0, canvas.width, canvas.height);
      pen.drawImage(image, 0, 0, canvas.width, canvas.height);
      canvas.toBlob((blob) => (blob ? answer(blob) : fail(new Error("no picture"))), "image/png");
    };
    image.onerror = () => fail(new Error("no picture"));
    image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(svg)}`;
  });
}

// The report stands in a shadow of its own: its style reaches nothing else, and its markup holds no script (nor would one run). The
// page's policy takes no style from markup, so it is set by script; what it says of the sheet counts only in the document.
function showReport(text) {
  const look = [...text.matchAll(/<style>([^]*?)<\/style>/g)].map((found) => found[1]).join("\n");
  const page = new DOMParser().parseFromString(text.replace(/<style>[^]*?<\/style>/g, "").replace(/ style="/g, ' data-style="'), "text/html");
  for (const node of page.querySelectorAll("script, iframe, object, embed, link, base, form")) node.remove();
  const host = el("printed");
  const shadow = host.shadowRoot || host.attachShadow({ mode: "open" });
  const style = new CSSStyleSheet(), sheet = new CSSStyleSheet();
  style.replaceSync(look.replace(/(^|[{},\s])body\{/g, "$1.body{"));
  sheet.replaceSync((look.match(/@page\{[^}]*\}/g) || []).join(""));
  shadow.adoptedStyleSheets = [style];
  document.adoptedStyleSheets = [sheet];
  const body = document.createElement("div");
  body.className = "body";
  for (const node of [...page.body.childNodes]) body.append(document.importNode(node, true));
  for (const node of body.querySelectorAll("[data-style]")) node.style.cssText = node.dataset.style;
  shadow.replaceChildren(body);
  document.body.classList.add("has-report");
}

async function asked(op, args) {
  const answer = await lanes.after.ask(op, jobNow(), args);
  if (!answer) throw new Error("stopped");
  if (!answer.ok) throw new Error(answer.error || (answer.faults && answer.faults[0].message) || "it cannot be made");
  return answer;
}

const untouched = document.documentElement.outerHTML; // before anything was changed: to be sent on with a job in it
const takes = {
  async system() { save(`${stem()}.ini`, "text/plain", (await asked("system_file")).text); },
  async report() { save(`${stem()}.html`, "text/html", (await asked("report", { date: today(), note: el("note").value })).text); },
  async csv() { save(`${stem()}.csv`, "text/csv", await figures()); },
  async svg() { save(`${stem()}.svg`, "image/svg+xml", (await picture())); },
  async png() { save(`${stem()}.png`, "image/png", await rasterise(await picture())); },
  async print() {
    showReport((await asked("report", { date: today(), note: el("note").value })).text);
    window.print();
  },
  async page() {
    const kept = { text: (await asked("system_file")).text, name: job.name, profile: job.profile, profileName: job.profileName };
    const data = JSON.stringify(kept).replace(/</g, "\\u003c");
    const mark = 'id="job">null<';
    save(`${stem()}-live.html`, "text/html", `<!DOCTYPE html>\n${untouched.replace(mark, () => `id="job">${data}<`)}`);
  },
};
// With the certainty where it has come: the lane of whole runs has it. Otherwise of a run anew.
async function figures() {
  const settled = el("run-lines").dataset.settled === "yes" && !lanes.whole.current;
  const answer = settled ? await lanes.whole.ask("csv", jobNow()) : null;
  if (answer && answer.ok) return answer.text;
  await asked("run");
  return (await asked("csv")).text;
}
async function picture() {
  const { pictures } = await asked("pictures");
  const one = pictures.find((of) => of.name === "worst beat") || pictures[0];
  if (!one) throw new Error("there is no picture of this run");
  return one.svg;
}
for (const button of document.querySelectorAll("[data-take]"))
  button.addEventListener("click", async () => {
    const back = leaving(button, button);
    el("take-note").textContent = "Making it …";
    button.disabled = true;
    try {
      await takes[button.dataset.take]();
      el("take-note").textContent = "Done.";
    } catch (problem) {
      el("take-note").textContent = `Not done: ${problem.message}`;
    }
    button.disabled = false;
    back();
  });
addEventListener("afterprint", () => {
  document.body.classList.remove("has-report");
  document.adoptedStyleSheets = [];
});
