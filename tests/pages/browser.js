// Chromium, driven over its DevTools protocol through a pipe: node and Chromium are all it needs.
"use strict";
const { spawn, execFileSync } = require("node:child_process");
const fs = require("node:fs");
const os = require("node:os");
const path = require("node:path");

function findChromium() {
  for (const name of ["chromium", "chromium-browser", "google-chrome"]) {
    try { return execFileSync("sh", ["-c", `command -v ${name}`], { encoding: "utf8" }).trim(); } catch { /* the next one */ }
  }
  return null;
}

class Browser {
  static async open() {
    const browser = new Browser();
    browser.folder = fs.mkdtempSync(path.join(os.tmpdir(), "page-"));
    browser.process = spawn(findChromium(), ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
      "--disable-background-networking", "--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required",
      "--remote-debugging-pipe", `--user-data-dir=${browser.folder}/profile`, "about:blank"],
    { stdio: ["ignore", "ignore", "ignore", "pipe", "pipe"] });
    browser.waiting = new Map();
    browser.listeners = [];
    browser.count = 0;
    let rest = "";
    browser.process.stdio[4].setEncoding("utf8");
    browser.process.stdio[4].on("data", (text) => {
      const pieces = (rest + text).split("\0");
      rest = pieces.pop();
      for (const piece of pieces) browser.hear(JSON.parse(piece));
    });
    return browser;
  }
  hear(message) {
    const waiting = this.waiting.get(message.id);
    if (waiting) {
      this.waiting.delete(message.id);
      if (message.error) waiting.fail(new Error(`${waiting.method}: ${message.error.message}`));
      else waiting.done(message.result);
    } else if (message.method) for (const listener of this.listeners) listener(message);
  }
  send(method, params = {}, session) {
    return new Promise((done, fail) => {
      const id = ++this.count;
      this.waiting.set(id, { done, fail, method });
      this.process.stdio[3].write(`${JSON.stringify({ id, method, params, sessionId: session })}\0`);
    });
  }
  async tab(width = 1280, height = 900, options = {}) {
    const { targetId } = await this.send("Target.createTarget", { url: "about:blank" });
    const { sessionId } = await this.send("Target.attachToTarget", { targetId, flatten: true });
    const tab = new Tab(this, sessionId, targetId);
    await tab.prepare(width, height, options);
    return tab;
  }
  async close() {
    await this.send("Browser.close").catch(() => {});
    await new Promise((done) => (this.process.exitCode !== null ? done() : this.process.on("exit", done)));
    fs.rmSync(this.folder, { recursive: true, force: true });
  }
}

class Tab {
  constructor(browser, session, target) {
    Object.assign(this, { browser, session, target, console: [] });
    browser.listeners.push((message) => {
      if (message.sessionId !== session) return;
      if (message.method === "Runtime.exceptionThrown")
        this.console.push(message.params.exceptionDetails.exception?.description || message.params.exceptionDetails.text);
      if (message.method === "Log.entryAdded" && message.params.entry.level === "error") this.console.push(message.params.entry.text);
      if (message.method === "Runtime.consoleAPICalled" && message.params.type === "error")
        this.console.push(message.params.args.map((one) => one.value || one.description).join(" "));
      if (message.method === "Page.javascriptDialogOpening") this.console.push(`dialog: ${message.params.message}`);
    });
  }
  send(method, params) { return this.browser.send(method, params, this.session); }
  async prepare(width, height, options) {
    for (const domain of ["Page", "Runtime", "Log", "DOM"]) await this.send(`${domain}.enable`);
    await this.size(width, height, options.scale);
    const features = [{ name: "prefers-color-scheme", value: options.dark ? "dark" : "light" },
      { name: "prefers-reduced-motion", value: options.still ? "reduce" : "no-preference" }];
    await this.send("Emulation.setEmulatedMedia", { features });
    this.downloads = fs.mkdtempSync(path.join(this.browser.folder, "down-"));
    await this.browser.send("Browser.setDownloadBehavior", { behavior: "allow", downloadPath: this.downloads });
  }
  size(width, height, scale = 1) {
    return this.send("Emulation.setDeviceMetricsOverride", { width, height, deviceScaleFactor: scale, mobile: width < 600 });
  }
  go(file) { return this.send("Page.navigate", { url: `file://${path.resolve(file)}` }); }
  // The value of an expression, which may be a promise.
  async ask(expression) {
    const { result, exceptionDetails } = await this.send("Runtime.evaluate", { expression, awaitPromise: true, returnByValue: true, userGesture: true });
    if (exceptionDetails) throw new Error(`${expression}: ${exceptionDetails.exception?.description || exceptionDetails.text}`);
    return result.value;
  }
  // Until an expression holds; what it was after that long otherwise.
  async until(expression, seconds = 60) {
    const end = Date.now() + 1000 * seconds;
    for (;;) {
      const value = await this.ask(expression);
      if (value) return value;
      if (Date.now() > end) throw new Error(`after ${seconds} s still not: ${expression}`);
      await new Promise((done) => setTimeout(done, 40));
    }
  }
  // A key as a hand presses it.
  async key(name) {
    const of = { Tab: 9, Enter: 13, Escape: 27, Space: 32, ArrowLeft: 37, ArrowRight: 39, ArrowDown: 40 }[name];
    const text = { Enter: "\r", Space: " " }[name], what = { key: name === "Space" ? " " : name, code: name, windowsVirtualKeyCode: of };
    await this.send("Input.dispatchKeyEvent", { type: text ? "keyDown" : "rawKeyDown", ...what, text });
    await this.send("Input.dispatchKeyEvent", { type: "keyUp", ...what });
  }
  data() { return this.ask("({...(document.querySelector('main') || document.body).dataset})"); }
  ready(seconds) { return this.until("document.querySelector('main')?.dataset.state === 'ready'", seconds); }
  async give(name, ...files) {
    const { root } = await this.send("DOM.getDocument");
    const { nodeId } = await this.send("DOM.querySelector", { nodeId: root.nodeId, selector: `input[name="${name}"]` });
    await this.send("DOM.setFileInputFiles", { nodeId, files: files.map((file) => path.resolve(file)) });
  }
  async shot(file, whole = false) {
    const { data } = await this.send("Page.captureScreenshot", { format: "png", captureBeyondViewport: whole });
    fs.writeFileSync(file, Buffer.from(data, "base64"));
  }
  // The file that a click brings down; those brought down before are gone, for one of the same name would take their place unseen.
  async download(click, seconds = 60) {
    for (const name of fs.readdirSync(this.downloads)) fs.rmSync(path.join(this.downloads, name));
    await (typeof click === "string" ? this.ask(click) : click());
    const end = Date.now() + 1000 * seconds;
    for (;;) {
      const name = fs.readdirSync(this.downloads).find((one) => !one.endsWith(".crdownload"));
      if (name) return path.join(this.downloads, name);
      if (Date.now() > end) throw new Error(`nothing came down: ${click}`);
      await new Promise((done) => setTimeout(done, 50));
    }
  }
  close() { return this.browser.send("Target.closeTarget", { targetId: this.target }); }
}

module.exports = { Browser, findChromium };
