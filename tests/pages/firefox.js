// The page in headless Firefox: firefox.js PAGE.html COMMAND. Opens it, changes a value, plays a song, reads how sure it is; each figure
// must be the command's. Firefox is driven through its Marionette port ("length:[type, id, name, parameters]" over TCP), by node alone.
"use strict";
const fs = require("node:fs");
const net = require("node:net");
const os = require("node:os");
const path = require("node:path");
const { execFileSync, spawn } = require("node:child_process");

const [page, command] = process.argv.slice(2);
const van = ["examples/van-800w-8awg/system.ini", "examples/van-800w-8awg/profile.csv"];
let wrong = 0;
const same = (what, seen, wanted) => { if (seen !== wanted) { wrong++; console.log(`wrong: ${what}: ${JSON.stringify(seen)}, wanted ${JSON.stringify(wanted)}`); } };
const said = (...settings) => JSON.parse(execFileSync(command, ["simulate", ...van, ...settings, "-f", "json"], { encoding: "utf8", maxBuffer: 1 << 28 }));
const pause = (ms) => new Promise((done) => setTimeout(done, ms));

class Firefox {
  static async open() {
    const fox = new Firefox();
    const port = 20000 + (process.pid % 20000);
    fox.folder = fs.mkdtempSync(path.join(os.tmpdir(), "fox-"));
    fs.writeFileSync(path.join(fox.folder, "user.js"), [["marionette.port", port], ["browser.shell.checkDefaultBrowser", false], ["datareporting.policy.dataSubmissionEnabled", false],
      ["app.update.enabled", false], ["network.captive-portal-service.enabled", false], ["network.connectivity-service.enabled", false], ["browser.safebrowsing.update.enabled", false]]
      .map(([key, value]) => `user_pref("${key}", ${value});\n`).join(""));
    fox.process = spawn("firefox-esr", ["--headless", "--marionette", "--no-remote", "--profile", fox.folder], { stdio: "ignore", env: { ...process.env, HOME: fox.folder } });
    for (let tries = 0; !fox.socket; tries++) {
      await pause(200);
      fox.socket = await new Promise((done) => { const one = net.connect(port, "127.0.0.1", () => done(one)); one.on("error", () => done(null)); });
      if (tries > 300) throw new Error("Firefox does not listen");
    }
    fox.waiting = new Map();
    fox.count = 0;
    let rest = Buffer.alloc(0);
    fox.socket.on("data", (bytes) => {
      rest = Buffer.concat([rest, bytes]);
      for (;;) {
        const at = rest.indexOf(58), length = at < 0 ? NaN : Number(rest.subarray(0, at));
        if (!(rest.length > at + length)) return;
        const message = JSON.parse(rest.subarray(at + 1, at + 1 + length));
        rest = rest.subarray(at + 1 + length);
        if (!Array.isArray(message)) continue; // the greeting
        const [, id, problem, result] = message, one = fox.waiting.get(id);
        fox.waiting.delete(id);
        if (problem) one.fail(new Error(problem.message));
        else one.done(result);
      }
    });
    await fox.send("WebDriver:NewSession", {});
    return fox;
  }
  send(name, parameters) {
    return new Promise((done, fail) => {
      const id = ++this.count, text = JSON.stringify([0, id, name, parameters]);
      this.waiting.set(id, { done, fail });
      this.socket.write(`${Buffer.byteLength(text)}:${text}`);
    });
  }
  async ask(expression) { return (await this.send("WebDriver:ExecuteScript", { script: `return (${expression});`, args: [] })).value; }
  async until(expression, seconds) {
    for (const end = Date.now() + 1000 * seconds; ; await pause(50)) {
      const value = await this.ask(expression);
      if (value) return value;
      if (Date.now() > end) throw new Error(`after ${seconds} s still not: ${expression}`);
    }
  }
  async close() {
    await this.send("Marionette:Quit", { flags: ["eForceQuit"] }).catch(() => {});
    await new Promise((done) => (this.process.exitCode !== null ? done() : this.process.on("exit", done)));
    fs.rmSync(this.folder, { recursive: true, force: true });
  }
}

const ready = `document.querySelector("main") && document.querySelector("main").dataset.state === "ready"`;
const lowest = `document.querySelector("main").dataset.lowestV`;

async function look(fox) {
  const plain = said("--spread", "0"), opened = Date.now();
  await fox.send("WebDriver:Navigate", { url: `file://${path.resolve(page)}` });
  await fox.until(`document.querySelector("main").dataset.lowestV`, 120);
  console.log(`first answer after ${Date.now() - opened} ms`);
  same("opened", await fox.ask(lowest), String(plain.amplifiers[0].min_v));
  await fox.until(ready, 120);
  same("all at rest", await fox.until(`document.querySelector("#run-lines").dataset.settled === "yes" && document.querySelector("main").dataset.holdsPct`, 240), String(said().certainty.holds_pct));
  // a value, with a decimal comma
  await fox.ask(`(() => { const input = document.querySelector('#parts .field[data-key="cable amplifier feed.length"] .in input'); input.value = "3,5"; input.dispatchEvent(new Event("change", { bubbles: true })); return 1; })()`);
  await fox.until(`document.querySelector("main").dataset.state !== "ready"`, 20);
  await fox.until(ready, 120);
  same("3.5 m", await fox.ask(lowest), String(said("--spread", "0", "--set", "cable amplifier feed.length = 3.5 m").amplifiers[0].min_v));
  // a song: Firefox decodes it
  const count = 2 * 44100, song = Buffer.alloc(44 + 2 * count);
  song.write("RIFF", 0); song.writeUInt32LE(36 + 2 * count, 4); song.write("WAVEfmt ", 8); song.writeUInt32LE(16, 16); song.writeUInt16LE(1, 20); song.writeUInt16LE(1, 22);
  song.writeUInt32LE(44100, 24); song.writeUInt32LE(88200, 28); song.writeUInt16LE(2, 32); song.writeUInt16LE(16, 34); song.write("data", 36); song.writeUInt32LE(2 * count, 40);
  for (let k = 0; k < count; k++) song.writeInt16LE(Math.round(26000 * Math.sin((2 * Math.PI * 50 * k) / 44100)), 44 + 2 * k);
  await fox.ask(`(() => { const given = new DataTransfer(); given.items.add(new File([Uint8Array.from(atob("${song.toString("base64")}"), (c) => c.charCodeAt(0))], "song.wav", { type: "audio/wav" }));
    const input = document.querySelector('input[name="recording"]'); input.files = given.files; input.dispatchEvent(new Event("change")); return 1; })()`);
  await fox.until(`/the run now plays it/.test(document.querySelector("#song-note").textContent)`, 60);
  const before = await fox.ask(lowest);
  await fox.until(`${lowest} !== "${before}" && ${ready}`, 120);
  /* the driving of the profile goes on, the song over and over */
  const recording = path.join(fox.folder, "song.wav"), driving = path.join(fox.folder, "driving.csv");
  fs.writeFileSync(recording, song);
  fs.writeFileSync(driving, fs.readFileSync(van[1], "utf8").split("\n").filter((line) => line && !line.startsWith("#")).map((line) => line.split(",").slice(0, 2).join(",")).join("\n"));
  const played = JSON.parse(execFileSync(command, ["simulate", van[0], driving, "--spread", "0", "--set", "cable amplifier feed.length = 3.5 m", "--set", `programme drums.recording = ${recording}`, "-f", "json"], { encoding: "utf8", maxBuffer: 1 << 28 })).amplifiers[0].min_v;
  const seen = Number(await fox.ask(lowest));
  same(`the song: ${seen}, the command says ${played}`, Math.abs(seen - played) < 0.0005, true);
}

async function main() {
  const fox = await Firefox.open();
  try { await look(fox); } catch (problem) { wrong++; console.log(`wrong: ${problem.message}`); }
  await fox.close();
  process.exitCode = wrong ? 1 : 0;
}
main();
