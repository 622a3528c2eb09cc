// The part of a report where the reader moves both folds over a precomputed map.
"use strict";
(() => {
const holder = document.getElementById("fold-map");
if (!holder) return;
const data = JSON.parse(holder.textContent);
const get = (id) => document.getElementById(id);
const SVG = "http://www.w3.org/2000/svg";
const state = { ...data.start };
get("fold-map-part").hidden = false;

// First node and weights of the polynomial through the nodes around a place (Lagrange).
function weights(nodes, place, most) {
  const count = Math.min(most, nodes.length);
  let cell = 0;
  while (cell < nodes.length - 2 && nodes[cell + 1] <= place) cell += 1;
  const first = Math.max(0, Math.min(nodes.length - count, cell - ((count - 1) >> 1)));
  const near = nodes.slice(first, first + count);
  const w = near.map((at, k) =>
    near.reduce((product, other, m) => (m === k ? product : product * (place - other) / (at - other)), 1));
  return [first, w];
}

// The same, never across contact: a fold at which a tip touches has its own value and no neighbour;
// null between contact and the next fold.
function branchWeights(nodes, touching, place, most) {
  const here = nodes.findIndex((node) => Math.abs(node - place) < 1e-9);
  if (here >= 0 && touching[here]) return [here, [1]];
  let cell = 0;
  while (cell < nodes.length - 2 && nodes[cell + 1] <= place) cell += 1;
  let low = here >= 0 ? here : cell, high = here >= 0 ? here : Math.min(cell + 1, nodes.length - 1);
  if (touching[low] || touching[high]) return null;
  while (low > 0 && !touching[low - 1]) low -= 1;
  while (high < nodes.length - 1 && !touching[high + 1]) high += 1;
  const [first, w] = weights(nodes.slice(low, high + 1), place, most);
  return [low + first, w];
}

// A table [port][starboard][alpha] at the state, cubic in the folds; null where it has no value.
// "pick" takes the value out of an entry.
function at(table, pick = (entry) => entry) {
  const [a, wa] = weights(data.alphas, state.alpha, 3);
  for (const most of [4, 2]) {
    const across = branchWeights(data.folds, data.touching[0], state.port, most);
    const along = branchWeights(data.folds, data.touching[1], state.starboard, most);
    if (!across || !along) return null;
    const [i, wp] = across, [j, ws] = along;
    let sum = 0, known = true;
    for (let p = 0; p < wp.length; p++) for (let s = 0; s < ws.length; s++) for (let k = 0; k < wa.length; k++) {
      const value = pick(table[i + p][j + s][a + k]);
      if (value === null || value === undefined) known = false;
      sum += wp[p] * ws[s] * wa[k] * value;
    }
    if (known) return sum;
  }
  return null;
}

function digits(value, count = 3) {
  if (value === null) return "–";
  if (Math.abs(value) < data.smallest) return "0";
  return Number(value.toPrecision(count)).toString();
}
// Half-width of a sign that decides: the larger of both sides' at their folds, null where not known.
function widthOf(name) {
  const widths = data.widths.of && data.widths.of[name];
  if (!widths) return null;
  const folds = data.widths.folds;
  const there = (fold) => {
    let i = 0;
    while (i < folds.length - 2 && folds[i + 1] < fold) i++;
    const near = [widths[i], widths[i + 1]].filter((w) => w !== null && w !== undefined);
    return near.length ? Math.max(...near) : null;
  };
  const both = [there(state.port), there(state.starboard)];
  return both.includes(null) ? null : Math.max(...both);
}
function words(name, value) {
  if (value === null) return "";
  if (name === "Cl_beta" || name === "Cn_beta") {
    const width = widthOf(name);
    if (width === null || Math.abs(value) <= width) return data.open_sign;
  }
  const [down, none, up] = data.quantities[name].words;
  const word = Math.abs(value) < data.smallest ? none : value < 0 ? down : up;
  return mayTurn(name, value) ? `${word} ${data.without_rotors}` : word;
}
// Whether the sign of a number of wings and fins is another, or not known, with the rotors counted.
function mayTurn(name, value) {
  const rotors = data.rotors[name];
  if (!rotors) return false;
  const [a, wa] = weights(data.alphas, state.alpha, 3);
  if (wa.some((w, k) => rotors[a + k][0] === null)) return true;
  const [added, wide] = [0, 1].map((i) => wa.reduce((sum, w, k) => sum + w * rotors[a + k][i], 0));
  return Math.sign(value) * (value + added) <= widthOf(name) + wide;
}

// --- the craft from behind ------------------------------------------------------------------
function turned(p, hinge, angle, isVector) {
  const k = hinge.axis, c = Math.cos(angle), s = Math.sin(angle);
  const q = isVector ? p : p.map((v, i) => v - hinge.point[i]);
  const along = (k[0] * q[0] + k[1] * q[1] + k[2] * q[2]) * (1 - c);
  const cross = [k[1] * q[2] - k[2] * q[1], k[2] * q[0] - k[0] * q[2], k[0] * q[1] - k[1] * q[0]];
  return q.map((v, i) => v * c + cross[i] * s + k[i] * along + (isVector ? 0 : hinge.point[i]));
}
function placed(surface) {
  if (surface.body === "fixed") return surface;
  const hinge = data.hinges[surface.body], port = surface.body.endsWith("left");
  const from = port ? data.start.port : data.start.starboard;
  const angle = (port ? state.port : state.starboard) - from;
  const radians = hinge.linkage * angle * Math.PI / 180;
  return { body: surface.body, edges: surface.edges.map((p) => turned(p, hinge, radians, false)),
    normals: surface.normals.map((n) => turned(n, hinge, radians, true)) };
}
function element(parent, name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  parent.append(made);
  return made;
}
// Strips' circulation over airspeed at the largest load of the map sets the scale, once.
let largest = 1e-9;
for (const row of data.circulation) for (const cell of row) for (const strips of cell)
  for (const value of strips) if (value !== null) largest = Math.max(largest, Math.abs(value));
const heights = data.surfaces.flatMap((s) => s.edges.map((p) => p[2]));
const middle = 0.5 * (Math.min(...heights) + Math.max(...heights));
function drawCraft() {
  const svg = get("craft-front");
  svg.replaceChildren();
  const scale = 400 / data.size;
  const x = (p) => (320 + scale * p[1]).toFixed(1), y = (p) => (200 - scale * (p[2] - middle)).toFixed(1);
  const reach = 0.16 * data.size / largest;
  let strip = 0;
  for (const surface of data.surfaces) {
    const { edges, normals } = placed(surface);
    const out = [];
    let known = true;
    for (let i = 0; i < normals.length; i++, strip++) {
      const index = strip;
      const load = at(data.circulation, (entry) => entry[index]);
      if (load === null) known = false;
      const raised = (p) => p.map((v, k) => v + normals[i][k] * load * reach);
      if (i === 0) out.push(raised(edges[0]));
      out.push(raised(edges[i].map((v, k) => 0.5 * (v + edges[i + 1][k]))));
      if (i === normals.length - 1) out.push(raised(edges[i + 1]));
    }
    if (known) {
      const side = surface.body.endsWith("left") ? "port" : surface.body.endsWith("right") ? "starboard" : "inner";
      const ring = [edges[0], ...out, edges[edges.length - 1]];
      element(svg, "polygon", { class: `load ${side}`, points: ring.map((p) => `${x(p)},${y(p)}`).join(" ") });
    }
    const ends = [edges[0], edges[edges.length - 1]];
    element(svg, "line", { class: "wing", x1: x(ends[0]), y1: y(ends[0]), x2: x(ends[1]), y2: y(ends[1]) });
  }
  for (const hinge of Object.values(data.hinges))
    element(svg, "circle", { class: "hinge", cx: x(hinge.point), cy: y(hinge.point), r: 5 });
  element(svg, "text", { x: 12, y: 368, class: "port" }, "port");
  element(svg, "text", { x: 628, y: 368, "text-anchor": "end", class: "starboard" }, "starboard");
}

// --- the map --------------------------------------------------------------------------------
const box = { left: 58, top: 12, size: 330 };
const low = data.folds[0], high = data.folds[data.folds.length - 1];
const across = (fold) => box.left + box.size * (fold - low) / (high - low || 1);
const along = (fold) => box.top + box.size * (high - fold) / (high - low || 1);
const CELLS = 35;
let mapped = "";
function drawMap() {
  const svg = get("map-small"), name = get("map-of").value;
  if (mapped !== `${name} ${state.alpha}`) {
    svg.replaceChildren();
    drawCells(svg, name);
    drawScale(svg);
    element(svg, "path", { class: "cross under" });
    element(svg, "path", { class: "cross" });
    mapped = `${name} ${state.alpha}`;
  }
  const x = across(state.port), y = along(state.starboard);
  for (const cross of svg.querySelectorAll(".cross"))
    cross.setAttribute("d", `M${x - 12} ${y}H${x + 12}M${x} ${y - 12}V${y + 12}`);
}
function drawCells(svg, name) {
  const step = (high - low) / CELLS, size = box.size / CELLS, cells = [];
  const here = { ...state };
  for (let p = 0; p < CELLS; p++) for (let s = 0; s < CELLS; s++) {
    state.port = low + (p + 0.5) * step;
    state.starboard = low + (s + 0.5) * step;
    cells.push([p, s, at(data.values[name])]);
  }
  Object.assign(state, here);
  const all = cells.map((cell) => cell[2]).filter((v) => v !== null);
  let least = Math.min(...all), most = Math.max(...all);
  const { signed } = data.quantities[name];
  if (signed) { most = Math.max(-least, most) || 1; least = -most; }
  const colours = signed ? data.colours : data.shades;
  for (const [p, s, v] of cells) {
    const fill = v === null ? "none" : colours[Math.round((v - least) / (most - least || 1) * (colours.length - 1))];
    element(svg, "rect", { x: box.left + p * size, y: box.top + (CELLS - 1 - s) * size,
      width: size + 0.4, height: size + 0.4, fill });
  }
  if (signed) drawSigns(svg, cells, most, size);
  const bar = document.createElement("span");
  bar.className = "bar";
  bar.style.background = `linear-gradient(to right, ${colours.join(", ")})`;
  get("map-ends").replaceChildren(`colours from ${digits(least, 3)}`, bar, `to ${digits(most, 3)}`);
}
// Signs in every seventh cell: both ends of the scale are alike in grey.
function drawSigns(svg, cells, most, size) {
  for (const [p, s, v] of cells) {
    if (v === null || p % 7 !== 3 || s % 7 !== 3 || Math.abs(v) < 0.02 * most) continue;
    element(svg, "text", { x: box.left + (p + 0.5) * size, y: box.top + (CELLS - 0.5 - s) * size + 6,
      "text-anchor": "middle", class: Math.abs(v) > 0.6 * most ? "sign light" : "sign" }, v < 0 ? "−" : "+");
  }
}
function drawScale(svg) {
  for (const tick of data.folds.filter((f) => f % 30 === 0)) {
    element(svg, "text", { x: across(tick), y: box.top + box.size + 18, "text-anchor": "middle" }, tick);
    element(svg, "text", { x: box.left - 8, y: along(tick) + 4, "text-anchor": "end" }, tick);
  }
  element(svg, "text", { x: box.left + box.size / 2, y: 392, "text-anchor": "middle" }, "port fold [deg]");
  element(svg, "text", { transform: `translate(16 ${box.top + box.size / 2}) rotate(-90)`, "text-anchor": "middle" }, "starboard fold [deg]");
}

// --- the numbers ----------------------------------------------------------------------------
// Whether a tip is nearly at a fold at which it touches.
function beside() {
  return [state.port, state.starboard].some((fold, side) => !branchWeights(data.folds, data.touching[side], fold, 2));
}
function drawNumbers() {
  const body = document.createElement("tbody");
  const row = (name, value, said) => {
    const tr = body.insertRow();
    tr.insertCell().textContent = name;
    const cell = tr.insertCell();
    cell.textContent = value; cell.className = "n";
    tr.insertCell().textContent = said;
  };
  let none = false;
  for (const [name, quantity] of Object.entries(data.quantities)) {
    const value = at(data.values[name]);
    none = none || value === null;
    const unit = quantity.unit ? ` [${quantity.unit}]` : "";
    row(`${quantity.title} ${name.length < 9 ? name : ""}${unit}${quantity.of}`.replace("  ", " "), digits(value), words(name, value));
  }
  const pressure = 0.5 * data.density * state.airspeed ** 2;
  for (const [tip, hinge] of Object.entries(data.hinges)) {
    const coefficient = at(data.values[`hinge_moment_coefficient_${tip}`]);
    const moment = coefficient === null ? null : coefficient * pressure * hinge.area_span_m3;
    const said = moment === null ? "" : Math.abs(moment) < 1e-6 ? "no moment" : moment > 0 ? "raises the tip" : "pushes the tip down";
    row(`hinge moment ${tip.replace("_left", " port").replace("_right", " starboard")} [N m]`, digits(moment, 3), said);
  }
  get("map-numbers").tBodies[0].replaceWith(body);
  get("map-says").textContent = none ? beside() ? "No value here: a tip is about to touch a wing, and numbers leap at contact."
    : "No value here: this pair of folds cannot be built, or is too near one that cannot." : "";
}

function draw() {
  const shown = { "port-fold": [state.port, "°"], "starboard-fold": [state.starboard, "°"],
    "alpha-at": [state.alpha, "°"], "airspeed-at": [state.airspeed, " m/s"] };
  for (const [id, [value, unit]] of Object.entries(shown)) {
    get(id).value = value;
    get(`${id}-value`).textContent = `${value}${unit}`;
    get(id).setAttribute("aria-valuetext", `${value}${unit === "°" ? " degrees" : unit}`);
  }
  drawCraft(); drawMap(); drawNumbers();
}
function folded(port, starboard) {
  const inside = (v) => Math.max(low, Math.min(high, v));
  state.port = inside(port); state.starboard = inside(starboard);
  draw();
}

for (const id of ["port-fold", "starboard-fold"]) { get(id).min = low; get(id).max = high; }
get("alpha-at").min = data.alphas[0]; get("alpha-at").max = data.alphas[data.alphas.length - 1];
get("airspeed-at").min = Math.max(1, Math.floor(data.start.airspeed / 3)); get("airspeed-at").max = Math.ceil(3 * data.start.airspeed);
const together = get("tips-together");
get("port-fold").addEventListener("input", (e) => folded(+e.target.value, together.checked ? +e.target.value : state.starboard));
get("starboard-fold").addEventListener("input", (e) => folded(together.checked ? +e.target.value : state.port, +e.target.value));
get("alpha-at").addEventListener("input", (e) => { state.alpha = +e.target.value; draw(); });
get("airspeed-at").addEventListener("input", (e) => { state.airspeed = +e.target.value; draw(); });
together.addEventListener("change", () => { if (together.checked) folded(state.port, state.port); });
get("tips-swap").addEventListener("click", () => folded(state.starboard, state.port));
for (const [name, [port, starboard]] of Object.entries(data.configurations)) {
  const button = document.createElement("button");
  button.type = "button"; button.textContent = name;
  button.addEventListener("click", () => { together.checked = together.checked && port === starboard; folded(port, starboard); });
  get("settings-named").append(button);
}
for (const [name, quantity] of Object.entries(data.quantities)) get("map-of").add(new Option(`${quantity.title} (${name})${quantity.of}`, name));
get("map-of").value = "Cl";
get("map-of").addEventListener("change", drawMap);
const map = get("map-small");
function pressed(e) {
  const r = map.getBoundingClientRect(), k = 420 / r.width;
  const x = (e.clientX - r.left) * k, y = (e.clientY - r.top) * k;
  const port = Math.round(low + (x - box.left) / box.size * (high - low));
  const starboard = Math.round(high - (y - box.top) / box.size * (high - low));
  folded(port, together.checked ? port : starboard);
}
map.addEventListener("pointerdown", (e) => { map.setPointerCapture(e.pointerId); pressed(e); });
map.addEventListener("pointermove", (e) => { if (e.buttons) pressed(e); });
draw();
})();
