// ---- the answer ---------------------------------------------------------------------------------------------------------------

const exact = (number) => (number === null || number === undefined ? "" : String(number));

function fillLines(list, lines, from) {
  list.replaceChildren();
  for (const line of lines.slice(from)) list.append(make("dt", {}, line.label || "ANSWER"), make("dd", {}, line.text));
}

function showAnswer(answer) {
  const page = el("page");
  page.dataset.lowestV = exact(answer.lowest_v);
  page.dataset.verdict = answer.verdict;
  page.dataset.shown = "whole";
  say(answer.lines[0].text);
  speak(answer.lines[0].text);
  el("lowest").textContent = `${answer.lowest} V`;
  el("safety").textContent = answer.safety;
  fillLines(el("run-lines"), answer.lines, 1);
  el("run-lines").dataset.advised = answer.advised ? "yes" : "no";
  el("details").textContent = answer.details;
  showLoop(answer.loops, true);
  showSides();
}

// Of cars like this one; null = not known now.
function showHolds(answer) {
  const page = el("page");
  delete el("run-lines").dataset.settled;
  delete el("holds-box").dataset.first;
  el("holds-box").hidden = !(answer && answer.holds);
  if (answer && answer.holds) {
    page.dataset.holdsPct = exact(answer.holds_pct);
    el("holds").textContent = answer.holds;
  } else delete page.dataset.holdsPct;
}

// A first share, marked as such; the data follow with the full one.
function showFirstHolds(answer) {
  if (!answer.holds) return;
  el("holds").textContent = `about ${answer.holds}`;
  el("holds-box").dataset.first = "yes";
}

function say(text) {
  if (el("verdict").textContent !== text) el("verdict").textContent = text;
}
// The live region: the verdict, once for each change, and not its previews.
let spokenOf = 0;
function speak(text) {
  if (spokenOf === job.revision) return;
  spokenOf = job.revision;
  el("spoken").textContent = text;
}

function showPreview(answer) {
  el("page").dataset.shown = "preview";
  say(answer.text);
  el("lowest").textContent = `${answer.lowest} V`;
  showLoop(answer.loops, false);
  showTrace(answer);
}

function showParked(answer) {
  const page = el("page");
  if (answer && answer.ok) {
    page.dataset.parkedS = exact(answer.parked_s);
    el("parked").textContent = answer.shown;
    fillLines(el("parked-lines"), answer.lines, 0);
  } else {
    delete page.dataset.parkedS;
    el("parked").textContent = "–";
    fillLines(el("parked-lines"), [{ label: "PLAYS", text: answer ? answer.error : "" }], 0);
  }
}

el("more").addEventListener("click", () => {
  const open = el("answer").classList.toggle("open");
  el("more").setAttribute("aria-expanded", String(open));
  el("more").textContent = open ? "less" : "all";
});
