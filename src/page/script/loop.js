// ---- the loop: feed and return as one strip ------------------------------------------------------------------------------------

let loopsNow = [];
let editing = null; // section

// As thick as its copper: the diameter goes with the root of the area.
const thick = (area) => Math.max(2, Math.min(26, 2.1 * Math.sqrt(area)));

function partButton(part) {
  const wire = make("span", { class: "wire", "aria-hidden": "true" });
  wire.style.setProperty("--thick", `${part.area_mm2 ? thick(part.area_mm2) : 6}px`);
  const detail = [part.size, part.length].filter(Boolean).join(", ");
  const end = part.kind === "battery" || part.kind === "amplifier";
  const button = make("button", { type: "button", "aria-expanded": String(editing === part.section), "aria-controls": "editor",
    onclick: (event) => {
      showEditor(editing === part.section ? null : part.section);
      // by key: into the fields; a tap stays, for a phone would bring up its keypad
      const first = event.detail === 0 && editing ? el("editor").querySelector("input, select") : null;
      if (first) first.focus();
    } },
  wire, make("span", { class: "what" }, part.name, detail ? make("small", {}, detail) : null),
  make("span", { class: "volts" }, `${part.shown} V${part.kind === "amplifier" ? " left" : ""}`));
  return make("li", { class: `${part.kind}${end ? " end" : ""}${part.worst ? " worst" : ""}`, "data-section": part.section }, button);
}

function showLoop(loops, whole) {
  loopsNow = loops;
  const choice = el("loop-amplifier");
  el("loop-which").hidden = loops.length < 2;
  const before = choice.value;
  choice.replaceChildren(...loops.map((loop, k) => make("option", { value: String(k) }, loop.amplifier)));
  choice.value = before && Number(before) < loops.length ? before : "0";
  drawLoop(whole);
}

function drawLoop(whole) {
  const loop = loopsNow[Number(el("loop-amplifier").value) || 0];
  const strip = el("strip");
  const focused = document.activeElement && strip.contains(document.activeElement) ? document.activeElement.closest("li").dataset.section : null;
  strip.replaceChildren();
  el("ledger").replaceChildren();
  if (!loop) {
    el("loop-note").textContent = "No amplifier plays.";
    return;
  }
  el("loop-note").replaceChildren(`${loop.amplifier} at its worst moment, ${loop.at}: ${loop.rest} V at rest, ${loop.left} V left.${whole === false ? " Preview." : ""}`,
    make("span", { class: "hand" }, " Tap a part to change it."));
  const row = (name, parts, side) => make("div", { class: "wide" }, make("p", { class: "side" }, side), make("ol", { class: `strip ${name}`, "aria-label": name }, ...parts.map(partButton)));
  strip.append(row("feed", loop.parts.filter((part) => !part.ground_side), "feed, plus of the battery to the amplifier"),
    row("return", loop.parts.filter((part) => part.ground_side), "return, amplifier back to the battery"));
  if (focused) {
    const again = strip.querySelector(`li[data-section="${CSS.escape(focused)}"] button`);
    if (again) again.focus({ preventScroll: true });
  }
  const losses = loop.parts.filter((part) => part.kind !== "amplifier").sort((a, b) => b.drop_v - a.drop_v);
  const most = losses.length ? losses[0].drop_v : 0;
  for (const part of losses) {
    const bar = make("span", { class: "bar", "aria-hidden": "true" });
    bar.style.width = `${most > 0 ? Math.max(0, (100 * part.drop_v) / most) : 0}%`;
    el("ledger").append(make("li", { class: part.worst ? "worst" : "" }, make("span", {}, part.name), bar, make("span", { class: "volts" }, `${part.shown} V`)));
  }
}
el("loop-amplifier").addEventListener("change", () => drawLoop(true));

el("editor").addEventListener("keydown", (event) => {
  if (event.key !== "Escape" || !editing) return;
  const button = el("strip").querySelector(`li[data-section="${CSS.escape(editing)}"] button`);
  showEditor(null);
  if (button) button.focus();
});

// The part that was tapped, in its own words, beneath the strip.
function showEditor(section) {
  editing = section;
  const box = el("editor");
  for (const button of document.querySelectorAll("#strip button"))
    button.setAttribute("aria-expanded", String(button.parentNode.dataset.section === section));
  const part = section ? partOf(section) : null;
  box.hidden = !part;
  box.replaceChildren();
  if (part) box.append(make("h3", {}, part.section), fieldsOf(part));
}
