// ---- vary ---------------------------------------------------------------------------------------------------------------------------

const varied = { points: [], key: "" };

function showVaryKeys() {
  const select = el("vary-key"), before = select.value;
  select.replaceChildren();
  for (const part of state.loaded.parts)
    for (const of of part.fields)
      select.append(make("option", { value: `${part.section}.${of.key}` }, `${part.section}: ${of.key}`));
  const wanted = [before, ...[...select.options].map((option) => option.value).filter((key) => /^cable .*feed\.size$/.test(key))];
  select.value = wanted.find((key) => [...select.options].some((option) => option.value === key)) || select.options[0].value;
  if (select.value !== before || el("vary-values").value === "") suggest();
}

// A list or a range to begin with; it is the library that reads it.
function suggest() {
  const key = el("vary-key").value, cut = key.lastIndexOf(".");
  const part = partOf(key.slice(0, cut)), of = part && part.fields.find((one) => one.key === key.slice(cut + 1));
  if (!of) return;
  if (of.key === "size") el("vary-values").value = "8 AWG, 6 AWG, 4 AWG, 2 AWG, 1/0 AWG";
  else if (of.choices) el("vary-values").value = of.choices.split("|").join(", ");
  else {
    const found = taken(of.value, of.units ? of.units.split("|") : []);
    const start = found ? Number(found.number) : 0;
    const round = (number) => Number(number.toPrecision(2));
    const unit = found && found.unit ? ` ${found.unit}` : of.units ? ` ${of.units.split("|")[0]}` : "";
    el("vary-values").value = start > 0 ? `${round(start / 2)}${unit} .. ${round(start * 1.5)}${unit} step ${round(start / 8)}${unit}` : `0${unit} .. 1${unit} step 1${unit}`;
  }
}
el("vary-key").addEventListener("change", suggest);

function varying(on) {
  const from = el(on ? "vary-go" : "vary-stop"), to = el(on ? "vary-stop" : "vary-go");
  const goOn = leaving(from, to);
  el("vary-go").disabled = on;
  el("vary-stop").hidden = el("vary-progress").hidden = !on;
  goOn();
}
el("vary-go").addEventListener("click", async () => {
  varying(true);
  el("vary-note").textContent = "Running …";
  const key = el("vary-key").value;
  const values = el("vary-values").value.replace(/(\d),(\d)/g, "$1.$2").replace(/[\u0000-\u001f]/g, " ");
  const answer = await lanes.long.ask("vary", jobNow(), { variation: `${key} = ${values}` }, (done) => { el("vary-progress").value = done; });
  varying(false);
  if (!answer || (answer.ok && !answer.points.length)) return void (el("vary-note").textContent = "Stopped.");
  if (!answer.ok) return void (el("vary-note").textContent = answer.error || "these values cannot be run");
  el("vary-note").textContent = answer.partial ? "Stopped: only some of the values were run." : "";
  varied.points = answer.points;
  varied.key = key;
  el("vary-box").hidden = false;
  el("vary-table").textContent = answer.details || "";
  el("vary-at").max = String(answer.points.length - 1);
  el("vary-at").value = "0";
  drawCurve();
});
el("vary-stop").addEventListener("click", () => { lanes.long.halt(); });

function drawCurve() {
  const svg = el("vary-curve"), points = varied.points;
  const shown = points.map((point, k) => ({ ...point, k })).filter((point) => point.min_v !== null);
  svg.replaceChildren();
  // as wide as it is shown, so that its letters keep their size
  const wide = Math.max(300, Math.min(640, el("vary-box").clientWidth));
  svg.setAttribute("viewBox", `0 0 ${wide} 260`);
  if (!shown.length) return;
  let low = Math.min(...shown.map((point) => point.min_v)), high = Math.max(...shown.map((point) => point.min_v));
  const step = high - low > 2 ? 1 : high - low > 0.8 ? 0.5 : 0.1;
  low = Math.floor(low / step - 0.2) * step;
  high = Math.ceil(high / step + 0.2) * step;
  const x = (k) => 56 + ((wide - 80) * k) / Math.max(1, points.length - 1), y = (volts) => 215 - (190 * (volts - low)) / (high - low);
  for (let k = 0; low + k * step <= high + 1e-9; k++) {
    svg.append(drawing("path", { d: `M50 ${y(low + k * step)}H${wide - 20}`, class: "grid" }));
    svg.append(drawing("text", { x: 6, y: y(low + k * step) + 4 }, `${(low + k * step).toFixed(1)} V`));
  }
  svg.append(drawing("path", { class: "line", d: shown.map((point, k) => `${k ? "L" : "M"}${x(point.k)} ${y(point.min_v)}`).join("") }));
  for (const point of shown) svg.append(drawing("circle", { cx: x(point.k), cy: y(point.min_v), r: 5, class: "dot" }));
  const every = Math.ceil(points.length / (wide / 105));
  points.forEach((point, k) => {
    if (k % every === 0) svg.append(drawing("text", { x: x(k), y: 242, "text-anchor": k === 0 ? "start" : k === points.length - 1 ? "end" : "middle" }, point.value));
  });
  svg.append(drawing("circle", { id: "vary-here", cx: 0, cy: 0, r: 8, class: "here" }));
  moveCurve();
}
function moveCurve() {
  const point = varied.points[Number(el("vary-at").value)];
  if (!point) return;
  el("vary-out").textContent = point.min_v === null ? `${point.value}: ${point.error || point.status}` : `${point.value}: ${point.lowest} V, ${point.status}`;
  el("vary-at").setAttribute("aria-valuetext", el("vary-out").textContent);
  const dots = [...document.querySelectorAll("#vary-curve .dot")], shown = varied.points.filter((one) => one.min_v !== null);
  const dot = dots[shown.indexOf(point)], here = el("vary-here");
  if (here) here.style.display = dot ? "" : "none";
  if (dot && here) { here.setAttribute("cx", dot.getAttribute("cx")); here.setAttribute("cy", dot.getAttribute("cy")); }
}
el("vary-at").addEventListener("input", moveCurve);
el("vary-take").addEventListener("click", () => {
  const point = varied.points[Number(el("vary-at").value)];
  if (point) setValue(varied.key, point.value);
});
