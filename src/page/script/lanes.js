// ---- lanes: workers that answer questions about the job --------------------------------------------------------------------

const el = (id) => document.getElementById(id);
// Elements are made here and nowhere else; texts are texts, never markup.
function make(tag, attributes, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "class") node.className = value;
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) node.setAttribute(name, value);
  }
  for (const child of children) if (child !== null && child !== undefined) node.append(child);
  return node;
}
const drawing = (tag, attributes, text) => {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  if (text !== undefined) node.textContent = text;
  return node;
};

// Where that which has the focus is hidden, disabled or replaced, the focus goes on elsewhere: leaving(node)(), with another node
// given then or at first.
function leaving(node, other) {
  const had = node && node.contains(document.activeElement);
  return (to = other) => {
    if (had && to && (document.activeElement === document.body || document.activeElement === null || node.contains(document.activeElement)))
      to.focus({ preventScroll: true });
  };
}

let compiled = null; // the module, compiled once and handed to each worker
let workerAddress = null;
let questions = 0;

async function compileModule() {
  workerAddress = URL.createObjectURL(new Blob([el("worker").textContent], { type: "text/javascript" }));
  for (const lane of [lanes.whole, lanes.quick]) lane.begin(); // they start meanwhile
  const letters = atob(el("module").textContent), packed = new Uint8Array(letters.length);
  for (let k = 0; k < packed.length; k++) packed[k] = letters.charCodeAt(k);
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  compiled = await WebAssembly.compile(await new Response(stream).arrayBuffer());
}

// One worker, one question at a time. A newer question wins: it takes the place of one that waits, and where `hasty` ends the
// one under way, whatever it is at. Ended and replaced questions are answered with null.
class Lane {
  constructor(hasty, stoppable = false) {
    this.hasty = hasty;
    this.stoppable = stoppable && !!WebAssembly.Suspending;
    this.current = null;
    this.waiting = null;
    this.worker = null;
    this.equipped = false;
  }
  begin() {
    this.worker = new Worker(workerAddress);
    this.worker.onmessage = (event) => this.hear(event.data);
    this.worker.onerror = () => this.hear({ id: this.current && this.current.id, broken: "the worker stopped" }, true);
    this.equipped = false;
  }
  ask(op, job, args, onProgress) {
    return new Promise((answer) => {
      const question = { id: ++questions, op, job, args, answer, onProgress };
      if (this.current && this.hasty) this.stop();
      if (this.current) {
        if (this.waiting) this.waiting.answer(null);
        this.waiting = question;
      } else this.send(question);
    });
  }
  send(question) {
    if (!this.worker) this.begin();
    if (!this.equipped) this.worker.postMessage({ module: compiled, stoppable: this.stoppable });
    this.equipped = true;
    this.current = question;
    this.worker.postMessage({ id: question.id, op: question.op, job: question.job, args: question.args });
  }
  // Ends the question under way with what it has found; without an answer where the worker cannot listen while it works.
  halt() {
    const question = this.current;
    if (!question) return;
    if (!this.stoppable) return this.stop();
    this.worker.postMessage({ halt: question.id });
    setTimeout(() => { if (this.current === question) this.stop(); }, 3000);
  }
  hear(message, dead) {
    const question = this.current;
    if (!question || message.id !== question.id) return;
    if (message.progress !== undefined) {
      if (question.onProgress) question.onProgress(message.progress);
      return;
    }
    if (dead || message.broken) this.drop();
    this.current = null;
    const answer = message.broken ? { ok: false, error: `this could not be computed (${message.broken})` } : message.answer;
    if (message.trace) answer.trace = message.trace;
    question.answer(answer);
    if (this.waiting && !this.current) {
      const next = this.waiting;
      this.waiting = null;
      this.send(next);
    }
  }
  drop() {
    if (this.worker) this.worker.terminate();
    this.worker = null;
  }
  stop() {
    const under = [this.current, this.waiting];
    if (this.current) this.drop();
    this.current = this.waiting = null;
    for (const question of under) if (question) question.answer(null);
  }
}

// previews; whole runs and what is said of them; playing parked; what takes long and is asked for
const lanes = { quick: new Lane(false), whole: new Lane(true), parked: new Lane(true), long: new Lane(true, true), after: new Lane(true) };
