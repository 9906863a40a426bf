// ---- the beat: a trace that moves ------------------------------------------------------------------------------------------------

const COLUMNS = 8;
const CELL = { time: 0, low: 1, amplifier: 2, battery: 3, takes: 4, alternator: 5, gives: 6, light: 7 };
const SHOWN_S = 4;
const moves = { cells: null, rows: 0, every: 0.01, target: null, at: 0, last: 0, low: 10, high: 15, most: 1, clock: null };

function showTrace(answer) {
  if (!answer.trace) return;
  moves.cells = answer.trace;
  moves.rows = answer.rows;
  moves.target = answer.target_v;
  const cell = (row, column) => moves.cells[row * COLUMNS + column];
  moves.every = moves.rows > 1 ? cell(1, CELL.time) - cell(0, CELL.time) : 0.01;
  moves.low = Infinity;
  moves.high = -Infinity;
  moves.most = 1;
  let worst = 0;
  for (let row = 0; row < moves.rows; row++) {
    if (cell(row, CELL.low) < cell(worst, CELL.low)) worst = row;
    moves.low = Math.min(moves.low, cell(row, CELL.low), cell(row, CELL.battery));
    moves.high = Math.max(moves.high, cell(row, CELL.amplifier), cell(row, CELL.battery));
    moves.most = Math.max(moves.most, cell(row, CELL.takes), cell(row, CELL.alternator), cell(row, CELL.gives));
  }
  moves.low = Math.floor(2 * moves.low) / 2;
  moves.high = Math.ceil(2 * moves.high) / 2;
  if (!el("moving").checked) moves.at = Math.min(moves.rows - 1, worst + Math.round(1 / moves.every));
  if (moves.at >= moves.rows) moves.at = 0;
  if (!el("moving").checked) drawBeat(); // else with the next frame
}

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

function drawBeat() {
  const canvas = el("trace");
  if (!moves.cells || canvas.offsetParent === null) return;
  const scale = Math.min(2, window.devicePixelRatio || 1), wide = canvas.clientWidth, high = canvas.clientHeight;
  if (canvas.width !== Math.round(wide * scale)) { canvas.width = Math.round(wide * scale); canvas.height = Math.round(high * scale); }
  const pen = canvas.getContext("2d");
  pen.setTransform(scale, 0, 0, scale, 0, 0);
  pen.clearRect(0, 0, wide, high);
  const letters = Math.round(0.82 * parseFloat(getComputedStyle(canvas).fontSize)); // grows with the page's
  const left = 3.4 * letters, right = wide - 10, top = 10, bottom = high - 1.7 * letters;
  const y = (volts) => bottom - ((bottom - top) * (volts - moves.low)) / (moves.high - moves.low || 1);
  const span = Math.round(SHOWN_S / moves.every), from = Math.max(0, Math.min(moves.at, moves.rows - 1) - span);
  const x = (row) => left + ((right - left) * (row - from)) / span;
  pen.font = `${letters}px system-ui, sans-serif`;
  pen.fillStyle = colour("--soft");
  pen.strokeStyle = colour("--rule");
  pen.lineWidth = 1;
  const step = moves.high - moves.low > 3 ? 1 : 0.5;
  for (let volts = Math.ceil(moves.low / step) * step; volts <= moves.high + 1e-9; volts += step) {
    pen.beginPath();
    pen.moveTo(left, y(volts));
    pen.lineTo(right, y(volts));
    pen.stroke();
    pen.fillText(`${volts.toFixed(step < 1 ? 1 : 0)} V`, 2, y(volts) + 4);
  }
  const line = (column, stroke, dashes, width) => {
    pen.strokeStyle = stroke;
    pen.setLineDash(dashes);
    pen.lineWidth = width;
    pen.beginPath();
    for (let row = from; row <= moves.at && row < moves.rows; row++) {
      const at = moves.cells[row * COLUMNS + column];
      if (row === from) pen.moveTo(x(row), y(at));
      else pen.lineTo(x(row), y(at));
    }
    pen.stroke();
    pen.setLineDash([]);
  };
  if (moves.target !== null && moves.target >= moves.low) {
    pen.strokeStyle = colour("--wanted");
    pen.setLineDash([2, 4]);
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(left, y(moves.target));
    pen.lineTo(right, y(moves.target));
    pen.stroke();
    pen.setLineDash([]);
  }
  line(CELL.battery, colour("--steel"), [8, 4], 2);
  line(CELL.low, colour("--copper"), [], 2);
  pen.fillText(`${SHOWN_S} s`, right - 1.9 * letters, high - 6);
  drawGauges();
}

let glow = 1;
function drawGauges() {
  const row = Math.min(moves.at, moves.rows - 1), cell = (column) => moves.cells[row * COLUMNS + column];
  // without leave to flash, the lamp shows the mean of the last 0.7 s
  const back = Math.max(0, row - Math.round(0.7 / moves.every));
  let sum = 0;
  for (let k = back; k <= row; k++) sum += moves.cells[k * COLUMNS + CELL.light];
  glow = el("flashes").checked ? cell(CELL.light) : sum / (row - back + 1);
  el("glow").style.opacity = String(Math.max(0.05, Math.min(1, glow)));
  el("now-light").textContent = `${Math.round(100 * glow)} %`;
  const rows = [["amplifiers take", CELL.takes], ["alternator gives", CELL.alternator], ["batteries give", CELL.gives]];
  const box = el("currents");
  if (box.children.length !== 3)
    box.replaceChildren(...rows.map(([name]) => make("div", {}, make("span", {}, name), make("i", {}), make("b", {}))));
  rows.forEach(([, column], k) => {
    box.children[k].children[1].style.width = `${Math.max(0, (100 * cell(column)) / moves.most)}%`;
    box.children[k].children[2].textContent = `${cell(column).toFixed(0)} A`;
  });
}

let ticking = 0;
function tick(now) {
  if (!el("moving").checked && !moves.clock) return;
  ticking = requestAnimationFrame(tick);
  if (!moves.cells || now - moves.last < 30) return;
  if (moves.clock) moves.at = Math.round(moves.clock() / moves.every);
  else moves.at += Math.round(Math.min(0.25, (now - moves.last) / 1000) / moves.every);
  if (moves.at >= moves.rows) moves.at = moves.clock ? moves.rows - 1 : Math.round(SHOWN_S / moves.every);
  moves.last = now;
  drawBeat();
}
function startMoving() {
  moves.last = performance.now();
  cancelAnimationFrame(ticking);
  ticking = requestAnimationFrame(tick);
}

el("moving").checked = !matchMedia("(prefers-reduced-motion: reduce)").matches;
el("moving").addEventListener("change", () => { if (el("moving").checked) startMoving(); });
el("flashes").addEventListener("change", drawBeat);
addEventListener("resize", drawBeat);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", drawBeat);
