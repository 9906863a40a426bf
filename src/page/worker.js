// The worker: loads the module, gives it the files of the job, asks it, hands its answers on. It computes nothing.
//
// In:  { module, stoppable }            once
//      { id, op, job, args }            job: { revision, text, name, settings, profile, profileName, files, originals }
//      { halt: id }                     where stoppable: end that question with what has been found
// Out: { id, answer, trace } or { id, progress } or { id, broken }
"use strict";
let compiled = null;
let instance = null;
let memory = null;
let loaded = null; // { revision, job, answer }
let files = new Map();
let asked = 0;
const MEMORY_MOST = 512 * 1024 * 1024;
const NO_FILE = 44, BAD_HANDLE = 8, NOT_HERE = 52, OK = 0;

const view = () => new DataView(memory.buffer);
const bytes = () => new Uint8Array(memory.buffer);
const read = (at, length) => new TextDecoder().decode(bytes().subarray(at, at + length));

// A file system of what the page was given: names without folders, to be read only.
function filesystem() {
  const open = new Map(); // handle -> { data, at }
  // by its path, else by its name alone: a page knows no folders
  const find = (path) => files.get(path) || files.get(path.replace(/.*\//, ""));
  let next = 4;
  const gather = (handle, vectors, count, at) => {
    const file = open.get(handle);
    let done = 0;
    for (let k = 0; k < count; k++) {
      const to = view().getUint32(vectors + 8 * k, true), length = view().getUint32(vectors + 8 * k + 4, true);
      const piece = file.data.subarray(at + done, at + done + length);
      bytes().set(piece, to);
      done += piece.length;
      if (piece.length < length) break;
    }
    return done;
  };
  const stat = (at, type, size) => {
    bytes().fill(0, at, at + 64);
    view().setUint8(at + 16, type);
    view().setBigUint64(at + 32, BigInt(size), true);
    return OK;
  };
  return {
    fd_prestat_get(handle, to) {
      if (handle !== 3) return BAD_HANDLE;
      view().setUint32(to, 0, true);
      view().setUint32(to + 4, 1, true);
      return OK;
    },
    fd_prestat_dir_name(handle, to) {
      if (handle !== 3) return BAD_HANDLE;
      bytes()[to] = 47;
      return OK;
    },
    path_open(folder, flags, name, length, how, rights, inheriting, status, to) {
      const path = read(name, length).replace(/^(\.?\/)+/, "");
      const data = find(path);
      if (!data || (how & 9) !== 0) return NO_FILE;
      open.set(next, { data, at: 0 });
      view().setUint32(to, next++, true);
      return OK;
    },
    fd_read(handle, vectors, count, to) {
      if (!open.has(handle)) return BAD_HANDLE;
      const done = gather(handle, vectors, count, open.get(handle).at);
      open.get(handle).at += done;
      view().setUint32(to, done, true);
      return OK;
    },
    fd_pread(handle, vectors, count, from, to) {
      if (!open.has(handle)) return BAD_HANDLE;
      view().setUint32(to, gather(handle, vectors, count, Number(from)), true);
      return OK;
    },
    fd_seek(handle, by, from, to) {
      const file = open.get(handle);
      if (!file) return BAD_HANDLE;
      const at = (from === 0 ? 0 : from === 1 ? file.at : file.data.length) + Number(by);
      if (at < 0) return 28;
      file.at = at;
      view().setBigUint64(to, BigInt(at), true);
      return OK;
    },
    fd_close(handle) { return open.delete(handle) ? OK : BAD_HANDLE; },
    fd_fdstat_get(handle, to) {
      if (handle !== 3 && !open.has(handle)) return handle < 3 ? stat24(to, 2) : BAD_HANDLE;
      return stat24(to, handle === 3 ? 3 : 4);
    },
    fd_filestat_get(handle, to) { return open.has(handle) ? stat(to, 4, open.get(handle).data.length) : BAD_HANDLE; },
    path_filestat_get(folder, flags, name, length, to) {
      const path = read(name, length).replace(/^(\.?\/)+/, "");
      const data = find(path);
      return data ? stat(to, 4, data.length) : NO_FILE;
    },
    fd_write(handle, vectors, count, to) {
      let done = 0;
      for (let k = 0; k < count; k++) done += view().getUint32(vectors + 8 * k + 4, true);
      view().setUint32(to, done, true);
      return OK;
    },
    environ_sizes_get(count, size) {
      view().setUint32(count, 0, true);
      view().setUint32(size, 0, true);
      return OK;
    },
    environ_get() { return OK; },
    clock_time_get(clock, precision, to) {
      view().setBigUint64(to, 0n, true);
      return OK;
    },
    proc_exit(code) { throw new Error("the module ended with " + code); },
  };
}
function stat24(to, type) {
  bytes().fill(0, to, to + 24);
  view().setUint8(to, type);
  view().setBigUint64(to + 8, 0xffffffffffffffffn, true);
  view().setBigUint64(to + 16, 0xffffffffffffffffn, true);
  return OK;
}

function start() {
  const wasi = filesystem();
  const imports = { wasi_snapshot_preview1: {}, page: { progress: stoppable ? new WebAssembly.Suspending(tell) : tell } };
  for (const needed of WebAssembly.Module.imports(compiled))
    if (needed.module === "wasi_snapshot_preview1")
      imports.wasi_snapshot_preview1[needed.name] = wasi[needed.name] || (() => NOT_HERE);
  instance = new WebAssembly.Instance(compiled, imports).exports;
  memory = instance.memory;
  instance._initialize();
  loaded = null;
}

// Where the worker is stoppable, the module is suspended for a moment every now and then, so that messages are heard.
let told = 0, listened = 0, stoppable = false, halted = false;
const rest = () => new Promise((done) => setTimeout(() => done(halted ? 1 : 0), 0));
function tell(done) {
  const now = Date.now();
  if (now - told >= 100) {
    told = now;
    postMessage({ id: asked, progress: done });
  }
  if (!stoppable || now - listened < 100) return 0;
  listened = now;
  return rest();
}

// Texts go in as UTF-8 with a zero at the end, and are given back when the call is done.
async function call(name, ...values) {
  const given = [];
  const plain = values.map((value) => {
    if (typeof value !== "string") return value === null ? 0 : value;
    const text = new TextEncoder().encode(value.replace(/\0/g, "\ufffd"));
    const at = instance.take(text.length + 1);
    if (at === 0) throw new Error("out of memory");
    given.push(at);
    bytes().set(text, at);
    bytes()[at + text.length] = 0;
    return at;
  });
  const work = stoppable ? WebAssembly.promising(instance[name]) : instance[name];
  const answer = await work(...plain);
  for (const at of given) instance.free(at);
  return answer;
}

function answerOf(at) {
  if (at === 0) throw new Error("out of memory");
  const all = bytes();
  let end = at;
  while (all[end] !== 0) end++;
  const text = read(at, end - at);
  instance.free(at);
  return JSON.parse(text);
}

// A job that is there already is not loaded again.
async function load(job) {
  if (loaded && loaded.revision === job.revision) return loaded.answer;
  if (!instance || memory.buffer.byteLength > MEMORY_MOST) start();
  files = new Map(job.files || []);
  if (loaded) instance.destroy(loaded.job);
  loaded = null;
  const made = instance.create();
  if (made === 0) throw new Error("out of memory");
  instance.listen(made);
  const answer = answerOf(await call("load", made, job.text, job.name, job.settings.join("\n"), job.profile, job.profileName || ""));
  loaded = { revision: job.revision, job: made, answer };
  return answer;
}

// The files that recordings were decoded from, piece by piece, for a report to name them. One that is gone by now stays unknown.
const PIECE = 1 << 20;
async function nameOriginals(originals) {
  for (const [name, file] of originals || []) {
    const room = instance.take(PIECE);
    try {
      if (room === 0) throw new Error("out of memory");
      await call("decoded", loaded.job, name, 0, 0, 0);
      for (let at = 0; at < file.size; at += PIECE) {
        const piece = new Uint8Array(await file.slice(at, at + PIECE).arrayBuffer());
        bytes().set(piece, room);
        await call("decoded", loaded.job, name, 1, room, piece.length);
      }
      await call("decoded", loaded.job, name, 2, 0, 0);
    } catch (problem) {
      if (!(problem instanceof DOMException)) throw problem;
    } finally {
      instance.free(room);
    }
  }
}

// What is asked without a job.
const general = {
  questions: () => call("questions"),
  answers: (args) => call("answers", args.lines),
};

const operations = {
  run: () => call("run", loaded.job),
  advise: () => call("advise", loaded.job),
  certainty: (args) => call("certainty", loaded.job, args.quick ? 1 : 0),
  preview: (args) => {
    instance.watch(loaded.job, args.amplifier || 0);
    return call("preview", loaded.job, args.profile, args.moment_s, args.span_s, args.charge || "");
  },
  glance: (args) => call("glance", loaded.job, args.span_s),
  play: (args) => {
    instance.watch(loaded.job, args.amplifier || 0);
    return call("play", loaded.job, args.every_s);
  },
  parked: () => call("parked", loaded.job),
  remedy: () => call("remedy", loaded.job),
  vary: (args) => call("vary", loaded.job, args.variation),
  system_file: () => call("system_file", loaded.job),
  csv: () => call("csv", loaded.job),
  report: async (args, job) => {
    await nameOriginals(job.originals);
    return call("report", loaded.job, args.date || "", args.note || "");
  },
  pictures: () => call("pictures", loaded.job),
};

async function work(message) {
  asked = message.id;
  halted = false;
  try {
    if (general[message.op]) {
      if (!instance) start();
      postMessage({ id: message.id, answer: answerOf(await general[message.op](message.args)) });
      return;
    }
    const begun = await load(message.job);
    const answer = begun.ok && message.op !== "load" ? answerOf(await operations[message.op](message.args || {}, message.job)) : begun;
    const reply = { id: message.id, answer };
    if (answer.ok && answer.rows > 0) {
      const at = instance.trace_cells(loaded.job);
      reply.trace = new Float32Array(memory.buffer.slice(at, at + 4 * 8 * answer.rows));
    }
    postMessage(reply, reply.trace ? [reply.trace.buffer] : []);
  } catch (problem) {
    // the module may be in any state: the next question gets a new one
    instance = loaded = null;
    postMessage({ id: message.id, broken: String(problem && problem.message) });
  }
}
onmessage = ({ data }) => {
  if (data.halt !== undefined) halted = halted || data.halt === asked;
  else if (data.module) {
    compiled = data.module;
    stoppable = data.stoppable;
  } else work(data);
};
