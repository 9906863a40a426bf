// ---- values: each part with the keys that one changes ---------------------------------------------------------------------------

const fieldsShown = new Map(); // key -> [field elements]
let identities = 0;

const partOf = (section) => (state.loaded ? state.loaded.parts.find((part) => part.section === section) : null);

// "5.5 m" as number and unit; what does not fit stays text.
function taken(value, units) {
  const found = /^([-+]?[\d.,]+) ?(\S.*)?$/.exec(value);
  if (!found || (found[2] && !units.includes(found[2]))) return null;
  return { number: found[1], unit: found[2] || "" };
}

function fieldOf(part, of) {
  const key = `${part.section}.${of.key}`;
  const id = `field-${++identities}`;
  const set = job.settings.get(key);
  const box = make("div", { class: "field", "data-key": key });
  const tag = of.assumed ? " assumed" : of.chosen ? " chosen" : "";
  box.append(make("label", { for: id }, `${of.key} `, tag ? make("i", { class: "tag" }, tag.trim()) : null));
  const inner = make("div", { class: "in" });
  const send = (value) => setValue(key, value);
  if (of.choices) {
    const words = of.choices.split("|");
    const select = make("select", { id, "aria-describedby": `${id}-fault` });
    for (const word of words.includes(of.value) ? words : [of.value, ...words]) select.append(make("option", { value: word }, word));
    if (of.key === "size") select.append(make("option", { value: "" }, "another …"));
    select.value = of.value;
    select.addEventListener("change", () => {
      if (select.value !== "") return send(select.value);
      const other = make("input", { id, type: "text", value: of.value, autocomplete: "off", spellcheck: "false" });
      other.addEventListener("change", () => send(other.value));
      other.addEventListener("keydown", (event) => {
        if (event.key !== "Escape") return;
        event.stopPropagation();
        select.value = of.value;
        other.replaceWith(select);
        select.focus();
      });
      select.replaceWith(other);
      other.focus();
      other.select();
    });
    inner.append(select);
  } else quantityField(inner, id, of, send);
  box.append(inner, make("p", { class: "fault", id: `${id}-fault`, role: "alert" }));
  if (!fieldsShown.has(key)) fieldsShown.set(key, []);
  fieldsShown.get(key).push(box);
  if (set !== undefined) box.classList.add("set-here");
  return box;
}

// A number with its unit beside it, and a slide to drag it by; text with a unit of its own is taken as it is.
function quantityField(inner, id, of, send) {
  const units = of.units ? of.units.split("|") : [];
  const parts = taken(of.value, units);
  const input = make("input", { id, type: "text", inputmode: parts || of.value === "" ? "decimal" : "text", autocomplete: "off",
    spellcheck: "false", value: parts ? parts.number : of.value, "aria-describedby": `${id}-fault` });
  const unit = make("select", { "aria-label": `unit of ${of.key}` });
  for (const name of units) unit.append(make("option", { value: name }, name));
  unit.value = parts && parts.unit ? parts.unit : units[0] || "";
  const whole = () => {
    const text = plainNumber(input.value);
    return text !== "" && /^[-+]?[\d.]+$/.test(text) && unit.value !== "" ? `${text} ${unit.value}` : text;
  };
  let pause = 0;
  input.addEventListener("input", () => {
    clearTimeout(pause);
    if (input.value.trim() !== "") pause = setTimeout(() => send(whole()), 350);
  });
  input.addEventListener("change", () => { clearTimeout(pause); send(whole()); });
  inner.append(input);
  if (units.length) {
    unit.addEventListener("change", () => send(whole()));
    inner.append(unit);
  }
  const start = parts ? Number(parts.number) : NaN;
  if (!(start > 0)) return;
  const slide = make("input", { type: "range", min: start / 4, max: start * 3, step: "any", value: start, "aria-label": `${of.key}, drag` });
  slide.addEventListener("input", () => {
    input.value = String(Number(Number(slide.value).toPrecision(3)));
    send(whole());
  });
  input.addEventListener("input", () => { const now = Number(plainNumber(input.value)); if (now > 0) slide.value = now; });
  queueMicrotask(() => inner.after(slide));
}

function fieldsOf(part) {
  const box = make("div", { class: "fields" });
  for (const of of part.fields) box.append(fieldOf(part, of));
  return box;
}

function markFault(key, message) {
  for (const box of fieldsShown.get(key) || []) {
    box.querySelector(".fault").textContent = message;
    const input = box.querySelector("input, select");
    if (message) input.setAttribute("aria-invalid", "true");
    else input.removeAttribute("aria-invalid");
  }
}

// Anew only where parts or values have changed from outside: who types keeps the field.
let partsShown = "";
function showParts() {
  const parts = state.loaded.parts;
  el("job-name").textContent = state.loaded.name || job.name;
  const shape = JSON.stringify(parts.map((part) => [part.section, part.fields.map((of) => [of.key, of.choices, of.units])]));
  if (shape === partsShown && refreshFields(parts)) return;
  partsShown = shape;
  const focused = focusedField();
  fieldsShown.clear();
  const open = new Set([...document.querySelectorAll("#parts details[open]")].map((node) => node.dataset.section));
  el("parts").replaceChildren();
  for (const part of parts) {
    const title = part.section === part.kind ? part.kind : part.section;
    const details = make("details", { "data-section": part.section },
      make("summary", {}, title, " ", part.given ? null : make("i", { class: "tag" }, "assumed"),
        make("span", { class: "hint brief" }, briefly(part))), fieldsOf(part));
    details.open = open.has(part.section);
    el("parts").append(details);
  }
  if (editing) showEditor(editing);
  showVaryKeys();
  if (focused) focused();
}
// Which field has the focus, so that it has it again when the fields were made anew.
function focusedField() {
  const now = document.activeElement, box = now && now.closest("#parts .field, #editor .field");
  const heading = now && now.closest("#parts summary"), section = heading && heading.parentNode.dataset.section;
  if (heading) return () => { const again = document.querySelector(`#parts details[data-section="${CSS.escape(section)}"] summary`); if (again) again.focus({ preventScroll: true }); };
  if (!box) return null;
  const where = box.closest("#editor") ? "#editor" : "#parts", at = [...box.querySelectorAll("input, select")].indexOf(document.activeElement);
  return () => {
    const again = document.querySelector(`${where} .field[data-key="${CSS.escape(box.dataset.key)}"]`);
    // the slide of a field comes a moment after it
    queueMicrotask(() => { if (again) (again.querySelectorAll("input, select")[at] || again.querySelector("input, select")).focus({ preventScroll: true }); });
  };
}
const briefly = (part) => part.fields.slice(0, 3).map((of) => of.value).filter(Boolean).join(", ");

function refreshFields(parts) {
  for (const part of parts) {
    const brief = document.querySelector(`#parts details[data-section="${CSS.escape(part.section)}"] .brief`);
    if (brief) brief.textContent = briefly(part);
    for (const of of part.fields)
      for (const box of fieldsShown.get(`${part.section}.${of.key}`) || []) {
        const input = box.querySelector(".in input, .in select");
        const tag = box.querySelector(".tag");
        if (tag && !of.assumed && !of.chosen) tag.remove();
        if (input === document.activeElement || box.contains(document.activeElement)) continue;
        const units = of.units ? of.units.split("|") : [];
        const now = input.tagName === "SELECT" ? null : taken(of.value, units);
        if (input.tagName === "SELECT" && ![...input.options].some((option) => option.value === of.value)) return false;
        input.value = now ? now.number : of.value;
        const unit = box.querySelector(".in select[aria-label]");
        if (now && now.unit && unit) unit.value = now.unit;
        const slide = box.querySelector("input[type=range]");
        if (slide && now) slide.value = now.number;
      }
  }
  return true;
}
