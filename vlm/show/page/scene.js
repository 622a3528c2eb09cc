// A craft on a plain canvas: far things first, turned by drag. No network, no libraries.
"use strict";
const data = JSON.parse(document.getElementById("data").textContent);
const canvas = document.getElementById("view");
const pen = canvas.getContext("2d");
const view = { yaw: 0, pitch: 0, zoom: 1 };
let colouring = Object.keys(data.colourings)[0];
let drawn = [];

// Unit vectors of the picture: to the right, up, and toward the viewer, in geometry axes.
function frame() {
  const cy = Math.cos(view.yaw), sy = Math.sin(view.yaw);
  const cp = Math.cos(view.pitch), sp = Math.sin(view.pitch);
  return {
    right: [-sy, cy, 0],
    up: [-cy * sp, -sy * sp, cp],
    toward: [cy * cp, sy * cp, sp],
  };
}
function dot(a, b) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }

function colour(value, limit) {
  const table = data.colours, last = table.length - 1;
  const place = Math.min(1, Math.max(0, 0.5 + 0.5 * value / limit));
  return table[Math.round(place * last)];
}

function items() {
  const { values, limit } = data.colourings[colouring];
  const ink = (name) => getComputedStyle(document.body).getPropertyValue(name).trim();
  const paint = { wake: ink("--wake"), hinge: ink("--hinge"), force: ink("--force"),
    ribbon: ink("--ribbon"), ink: ink("--ink"), soft: ink("--soft") };
  const list = data.panels.map((points, i) =>
    ({ points, fill: colour(values[i], limit), line: paint.soft, width: 0.5, value: values[i] }));
  for (const points of data.ribbons) list.push({ points, fill: paint.ribbon });
  for (const points of data.wake) list.push({ points, line: paint.wake, width: 0.6, open: true });
  for (const points of data.outline) list.push({ points, line: paint.ink, width: 1.2, open: true, nearer: 1e-3 });
  for (const points of data.hinges) list.push({ points, line: paint.hinge, width: 3.5, open: true, nearer: 2e-3 });
  for (const points of data.forces) list.push({ points, line: paint.force, width: 2, open: true, nearer: 3e-3 });
  return list;
}

function draw() {
  const ratio = window.devicePixelRatio || 1;
  const width = canvas.clientWidth, height = canvas.clientHeight;
  canvas.width = width * ratio; canvas.height = height * ratio;
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, width, height);
  const f = frame();
  const scale = view.zoom * Math.min(width, 1.5 * height) / (1.35 * data.size);
  const place = (p) => {
    const q = [p[0] - data.middle[0], p[1] - data.middle[1], p[2] - data.middle[2]];
    return [0.5 * width + scale * dot(q, f.right), 0.5 * height - scale * dot(q, f.up)];
  };
  const list = items();
  for (const item of list) {
    let depth = 0;
    for (const p of item.points) depth += dot(p, f.toward);
    item.depth = depth / item.points.length + (item.nearer || 0) * data.size;
    item.flat = item.points.map(place);
  }
  list.sort((a, b) => a.depth - b.depth);
  for (const item of list) {
    pen.beginPath();
    item.flat.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    if (!item.open) pen.closePath();
    if (item.fill) { pen.fillStyle = item.fill; pen.fill(); }
    if (item.line) { pen.strokeStyle = item.line; pen.lineWidth = item.width; pen.stroke(); }
  }
  drawn = list;
  triad(f, height);
}

function triad(f, height) {
  const style = getComputedStyle(document.body);
  pen.fillStyle = pen.strokeStyle = style.color;
  pen.lineWidth = 1.5; pen.font = "13px sans-serif";
  const names = [["x aft", [1, 0, 0]], ["y starboard", [0, 1, 0]], ["z up", [0, 0, 1]]];
  for (const [name, axis] of names) {
    const dx = 42 * dot(axis, f.right), dy = -42 * dot(axis, f.up);
    pen.beginPath(); pen.moveTo(64, height - 64); pen.lineTo(64 + dx, height - 64 + dy); pen.stroke();
    pen.fillText(name, 66 + 1.15 * dx, height - 62 + 1.15 * dy);
  }
}

function turn(yaw, pitch) {
  view.yaw += yaw;
  view.pitch = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, view.pitch + pitch));
  draw();
}
function zoom(factor) { view.zoom = Math.max(0.3, Math.min(12, view.zoom * factor)); draw(); }

const pointers = new Map();
canvas.addEventListener("pointerdown", (e) => {
  pointers.set(e.pointerId, [e.clientX, e.clientY]);
  canvas.setPointerCapture(e.pointerId);
});
canvas.addEventListener("pointermove", (e) => {
  const before = pointers.get(e.pointerId);
  if (!before) { tell(e.offsetX, e.offsetY); return; }
  const now = [e.clientX, e.clientY];
  if (pointers.size === 1) turn(-0.008 * (now[0] - before[0]), 0.008 * (now[1] - before[1]));
  else {
    const other = [...pointers].find(([id]) => id !== e.pointerId)[1];
    const size = (p) => Math.hypot(p[0] - other[0], p[1] - other[1]) || 1;
    zoom(size(now) / size(before));
  }
  pointers.set(e.pointerId, now);
});
for (const kind of ["pointerup", "pointercancel"])
  canvas.addEventListener(kind, (e) => pointers.delete(e.pointerId));
canvas.addEventListener("wheel", (e) => { e.preventDefault(); zoom(Math.exp(-0.001 * e.deltaY)); },
  { passive: false });
canvas.addEventListener("keydown", (e) => {
  const step = { ArrowLeft: [0.1, 0], ArrowRight: [-0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] };
  if (e.key in step) { e.preventDefault(); turn(...step[e.key]); }
  else if (e.key === "+" || e.key === "=") zoom(1.15);
  else if (e.key === "-") zoom(1 / 1.15);
});

// What lies under the pointer.
function tell(x, y) {
  const found = [...drawn].reverse().find((item) => item.value !== undefined && inside(x, y, item.flat));
  document.getElementById("under").textContent =
    found ? `here: ${data.colourings[colouring].title} ${found.value.toPrecision(3)}` : "";
}
function inside(x, y, corners) {
  let odd = false;
  for (let i = 0, j = corners.length - 1; i < corners.length; j = i++) {
    const [a, b] = corners[i], [c, d] = corners[j];
    if (b > y !== d > y && x < ((c - a) * (y - b)) / (d - b) + a) odd = !odd;
  }
  return odd;
}

function coloured(name) {
  colouring = name;
  const { limit } = data.colourings[name];
  document.getElementById("low").textContent = `−${limit} or below`;
  document.getElementById("high").textContent = `${limit} or above`;
  document.getElementById("bar").style.background = `linear-gradient(to right, ${data.colours.join(",")})`;
  draw();
}

const chooser = document.getElementById("colouring");
for (const [name, entry] of Object.entries(data.colourings)) chooser.add(new Option(entry.title, name));
chooser.addEventListener("change", () => coloured(chooser.value));
for (const [name, eye] of Object.entries(data.directions)) {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = name;
  button.addEventListener("click", () => look(eye));
  document.getElementById("views").append(button);
}
function look(eye) {
  view.yaw = Math.atan2(eye[1], eye[0]);
  view.pitch = Math.atan2(eye[2], Math.hypot(eye[0], eye[1]));
  if (Math.hypot(eye[0], eye[1]) < 1e-9) view.yaw = 0;
  draw();
}
window.addEventListener("resize", draw);
window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
look(data.directions["three-quarter"]);
coloured(colouring);
