// ---- remedy ------------------------------------------------------------------------------------------------------------------------

function searching(on) {
  const from = el(on ? "remedy-go" : "remedy-stop"), to = el(on ? "remedy-stop" : "remedy-go");
  const goOn = leaving(from, to);
  el("remedy-go").disabled = on;
  el("remedy-stop").hidden = el("remedy-progress").hidden = !on;
  goOn();
}

el("remedy-go").addEventListener("click", async () => {
  const begun = job.revision;
  searching(true);
  const note = el("remedy-note");
  note.textContent = "Searching …";
  el("remedy-sets").replaceChildren();
  el("remedy-lines").replaceChildren();
  const answer = await lanes.long.ask("remedy", jobNow(), {}, (done) => {
    el("remedy-progress").value = done; // the note is spoken: it does not count along
  });
  searching(false);
  if (!answer) return void (note.textContent = "Stopped: nothing was found yet.");
  if (!answer.ok) return void (note.textContent = answer.error === "stopped" ? "Stopped: nothing was found yet." : answer.error || "The search failed.");
  note.textContent = answer.partial ? "Stopped. What follows is what was found so far; a smaller set may exist."
    : begun === job.revision ? "" : "Values have changed since: search again.";
  fillLines(el("remedy-lines"), answer.lines, 0);
  if (answer.partial)
    for (const one of answer.worth)
      if (one.shown) el("remedy-lines").append(make("dt", {}, "TRIED"), make("dd", {}, `${one.what}: ${one.shown} V gained`));
  const sets = [...(answer.found ? [answer.chosen] : []), ...answer.others];
  sets.forEach((set, k) => {
    if (!set.settings.length) return;
    el("remedy-sets").append(make("div", { class: "set" }, make("p", {}, make("b", {}, k === 0 && answer.found ? (answer.partial ? "So far: " : "Smallest: ") : "Or: "), set.what),
      make("p", {}, set.after || ""),
      make("ul", {}, ...set.settings.map((one) => make("li", {}, `${one.key} = ${one.value}`))),
      make("button", { type: "button", onclick: () => takeOver(set) }, "Apply these")));
  });
});
el("remedy-stop").addEventListener("click", () => { lanes.long.halt(); });

function takeOver(set) {
  state.before = state.answer ? sideNow() : state.before;
  for (const one of set.settings) {
    job.settings.delete(one.key);
    job.settings.set(one.key, one.value);
  }
  changed({ fresh: true });
  el("answer").scrollIntoView({ block: "start" });
}
