// Runs a WASI program in node: run.js PROGRAM.wasm ROOT ARGUMENT...; ROOT becomes its file system.
"use strict";
const fs = require("fs");
const { WASI } = require("node:wasi");
const [program, root, ...rest] = process.argv.slice(2);
const wasi = new WASI({ version: "preview1", args: [program, ...rest], env: {}, preopens: { "/": root }, returnOnExit: true });
const module_ = new WebAssembly.Module(fs.readFileSync(program));
const instance = new WebAssembly.Instance(module_, { wasi_snapshot_preview1: wasi.wasiImport });
process.exitCode = wasi.start(instance);
