// ---- remedy ------------------------------------------------------------------------------------------------------------------------

function searching(on) {
  el("remedy-go").disabled = on;
  el("remedy-stop").hidden = el("remedy-progress").hidden = !on;
}

el("remedy-go").addEventListener("click", async () => {
  const begun = job.revision;
  searching(true);
  el("remedy-note").textContent = "Searching …";
  el("remedy-sets").replaceChildren();
  el("remedy-lines").replaceChildren();
  const answer = await lanes.long.ask("remedy", jobNow(), {}, (done) => { el("remedy-progress").value = done; });
  searching(false);
  if (!answer) return void (el("remedy-note").textContent = "Stopped.");
  if (!answer.ok) return void (el("remedy-note").textContent = answer.error || "no remedy could be searched for");
  el("remedy-note").textContent = begun === job.revision ? "" : "Values have been changed since: search again for those.";
  fillLines(el("remedy-lines"), answer.lines, 0);
  const sets = [...(answer.found ? [answer.chosen] : []), ...answer.others];
  sets.forEach((set, k) => {
    if (!set.settings.length) return;
    el("remedy-sets").append(make("div", { class: "set" }, make("p", {}, make("b", {}, k === 0 && answer.found ? "Smallest: " : "Or: "), set.what),
      make("p", {}, set.after || ""),
      make("ul", {}, ...set.settings.map((one) => make("li", {}, `${one.key} = ${one.value}`))),
      make("button", { type: "button", onclick: () => takeOver(set) }, "Apply these")));
  });
});
el("remedy-stop").addEventListener("click", () => { lanes.long.stop(); });

function takeOver(set) {
  state.before = state.answer ? sideNow() : state.before;
  for (const one of set.settings) {
    job.settings.delete(one.key);
    job.settings.set(one.key, one.value);
  }
  changed({ fresh: true });
  el("answer").scrollIntoView({ block: "start" });
}
