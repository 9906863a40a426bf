// ---- the ten questions --------------------------------------------------------------------------------------------------------------------

const asking = []; // a reader of the answer for each question

const unitsOf = (text) => text.split(/, | or /).map((unit) => unit.replace(/ \(.*\)/, "").trim()).filter(Boolean);

// One part of an answer: a choice, or a number with its unit. Returns its element and what reads it.
function answerPart(of, question) {
  const title = `${question.words} ${of.name}`;
  if (of.form === "choice") {
    const select = make("select", { "aria-label": title });
    select.append(make("option", { value: "" }, of.unknown ? `don’t know (${of.unknown})` : "don’t know"));
    for (const choice of of.choices) select.append(make("option", { value: choice.word, title: choice.says }, choice.word));
    return { node: select, read: () => select.value };
  }
  const units = unitsOf(of.units);
  const input = make("input", { type: "text", inputmode: "decimal", autocomplete: "off", spellcheck: "false", size: "7",
    placeholder: of.unknown ? `? ${of.unknown}` : "?", "aria-label": `${title}, empty = don’t know${of.range ? `, usual ${of.range}` : ""}` });
  const unit = make("select", { "aria-label": `${title}, unit` });
  for (const name of units) unit.append(make("option", { value: name }, name));
  if (of.unit) unit.value = of.unit;
  return { node: make("span", { class: "with-unit" }, make("small", {}, of.name), input, unit),
    read: () => {
      const text = input.value.trim();
      return text === "" ? "" : /[a-z]/i.test(text.replace(/ x /g, "")) ? text : `${text} ${unit.value}`;
    } };
}

function answerRow(question) {
  const parts = question.parts.map((of) => answerPart(of, question));
  const name = question.several && question.parts.some((of) => of.form === "number")
    ? make("input", { type: "text", size: "6", placeholder: "name", autocomplete: "off", "aria-label": `${question.words} name` }) : null;
  return { node: make("span", { class: "answer-row" }, name, ...parts.map((part) => part.node)),
    read: () => {
      const given = parts.map((part) => part.read()).filter(Boolean);
      const called = name ? name.value.replace(/[,;\n]/g, " ").trim() : "";
      return given.length ? (called ? `${called} ` : "") + given.join(", ") : "";
    } };
}

function answerBox(question) {
  const box = make("div", { class: "answers" });
  if (question.several && question.parts.length === 1 && question.parts[0].form === "choice") {
    const boxes = question.parts[0].choices.map((choice) => {
      const check = make("input", { type: "checkbox", value: choice.word });
      box.append(make("label", { class: "switch" }, check, choice.says));
      return check;
    });
    asking.push(() => boxes.filter((check) => check.checked).map((check) => check.value).join("; "));
    return box;
  }
  const rows = [answerRow(question)];
  box.append(rows[0].node);
  if (question.several)
    box.append(make("button", { type: "button", onclick: (event) => {
      rows.push(answerRow(question));
      event.currentTarget.before(rows[rows.length - 1].node);
    } }, "One more"));
  asking.push(() => rows.map((row) => row.read()).filter(Boolean).join("; "));
  return box;
}

async function showQuestions() {
  const answer = await lanes.quick.ask("questions", null, {});
  if (!answer) return void setTimeout(showQuestions, 500); // something newer took its place
  if (!answer.ok) return;
  const list = make("ol", { class: "questions" });
  answer.questions.forEach((question, k) => {
    list.append(make("li", { class: "q", "data-question": question.name }, make("p", {}, question.words), answerBox(question),
      make("p", { class: "hint" }, question.look), make("p", { class: "fault", role: "alert", id: `question-${k + 1}` })));
  });
  el("questions").replaceChildren(make("h3", {}, "Ten questions"),
    make("p", { class: "hint" }, "Anything left open counts as “don’t know”: the usual value is taken, and marked as assumed."),
    list, make("div", { class: "row" }, make("button", { type: "button", id: "answers-go", onclick: takeAnswers }, "Make the job from these answers")),
    make("p", { id: "look-first", role: "status" }));
}

async function takeAnswers() {
  const lines = asking.map((read) => plainNumber(read())).join("\n");
  const answer = await lanes.after.ask("answers", null, { lines });
  if (!answer) return;
  for (const node of document.querySelectorAll(".q .fault")) node.textContent = "";
  if (!answer.ok) {
    for (const one of answer.faults || []) {
      const node = el(`question-${one.line}`);
      if (node) node.textContent = `${one.value ? `${one.value}: ` : ""}${one.message}`;
    }
    el("look-first").textContent = answer.error || "Some answers cannot be taken: see above.";
    return;
  }
  el("look-first").textContent = answer.look_first;
  openJob({ text: answer.text, name: "job.ini" });
}
