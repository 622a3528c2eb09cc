// A craft in motion on a plain canvas, played from kept frames. No network, no libraries.
"use strict";
const data = JSON.parse(document.getElementById("data").textContent);
const canvas = document.getElementById("view");
const pen = canvas.getContext("2d");
const view = { yaw: -2.5, pitch: 0.35, zoom: 1 };
const slider = document.getElementById("when");
const button = document.getElementById("play");
const pace = document.getElementById("pace");
const last = data.time.length - 1;
let frame = 0, playing = false, before = 0;
slider.max = String(last);

const radians = (value) => (value * Math.PI) / 180;
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];

// A point turned about a line by an angle (Rodrigues).
function turned(point, line, axis, angle) {
  const d = point.map((v, i) => v - line[i]);
  const c = Math.cos(angle), s = Math.sin(angle), along = dot(axis, d), k = cross(axis, d);
  return d.map((v, i) => line[i] + v * c + k[i] * s + axis[i] * along * (1 - c));
}

// From geometry axes (x aft, y starboard, z up) to a level view (x ahead, y starboard, z up).
function shown(point, n) {
  const [bank, pitch, heading] = data.angles.map((values) => radians(values[n]));
  let [x, y, z] = [-point[0], point[1], -point[2]];
  [y, z] = [y * Math.cos(bank) - z * Math.sin(bank), y * Math.sin(bank) + z * Math.cos(bank)];
  [x, z] = [x * Math.cos(pitch) + z * Math.sin(pitch), -x * Math.sin(pitch) + z * Math.cos(pitch)];
  [x, y] = [x * Math.cos(heading) - y * Math.sin(heading), x * Math.sin(heading) + y * Math.cos(heading)];
  return [x, y, -z];
}

function corners(body, n) {
  const fold = body.side ? radians(data.folds[body.side][n]) * body.linkage : 0;
  return body.panels.map((panel) => panel.map((point) =>
    shown(fold ? turned(point, body.point, body.axis, fold) : point, n)));
}

const size = Math.max(...data.bodies.flatMap((b) => b.panels.flat().map((p) => Math.hypot(...p))));

function draw() {
  const ratio = window.devicePixelRatio || 1;
  const width = canvas.clientWidth, height = canvas.clientHeight;
  canvas.width = width * ratio; canvas.height = height * ratio;
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, width, height);
  const cy = Math.cos(view.yaw), sy = Math.sin(view.yaw);
  const cp = Math.cos(view.pitch), sp = Math.sin(view.pitch);
  // z up with x ahead and y starboard is left-handed: the picture's right follows starboard.
  const right = [sy, -cy, 0], up = [-cy * sp, -sy * sp, cp], toward = [cy * cp, sy * cp, sp];
  const scale = (view.zoom * Math.min(width, height)) / (2.4 * size);
  const place = (p) => [0.5 * width + scale * dot(p, right), 0.5 * height - scale * dot(p, up)];
  const style = getComputedStyle(document.body);
  const ink = (name) => style.getPropertyValue(name).trim();
  const list = [];
  for (const body of data.bodies)
    for (const panel of corners(body, frame))
      list.push({ flat: panel.map(place), fill: body.side ? ink("--force") : ink("--ribbon"),
        depth: panel.reduce((sum, p) => sum + dot(p, toward), 0) / panel.length });
  list.sort((a, b) => a.depth - b.depth);
  ground(place, style);
  pen.strokeStyle = ink("--ink"); pen.lineWidth = 1;
  for (const item of list) {
    pen.beginPath();
    item.flat.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    pen.closePath();
    pen.fillStyle = item.fill; pen.fill(); pen.stroke();
  }
  const t = data.said;
  // What rounds to zero has no sign.
  const fixed = (value, places) => value.toFixed(places).replace(/^-(?=0\.?0*$)/, "");
  document.getElementById("said").textContent =
    `${fixed(data.time[frame], 2)} s: fold ${fixed(data.folds.left[frame], 0)}° / ${fixed(data.folds.right[frame], 0)}°,` +
    ` bank ${fixed(t.bank_deg[frame], 1)}°, angle of attack ${fixed(t.alpha_deg[frame], 1)}°,` +
    ` sideslip ${fixed(t.beta_deg[frame], 1)}°, ${fixed(t.airspeed_m_s[frame], 1)} m/s,` +
    ` height ${fixed(t.height_m[frame], 2)} m, load factor ${fixed(t.load_factor[frame], 2)}` +
    (frame === last && data.cut_off ? `; cut off: ${data.cut_off}` : "");
}

// Marks of the air that stand still, every metre ahead, so that the craft is seen to move.
function ground(place, style) {
  pen.strokeStyle = style.getPropertyValue("--line").trim();
  const gone = data.place[0][frame] % 1, aside = data.place[1][frame], height = data.place[2][frame];
  for (let i = -3; i <= 4; i++) {
    pen.beginPath();
    for (const [k, side] of [-2, 2].entries()) {
      const [x, y] = place([i - gone, side - aside, -1 - height]);
      if (k) pen.lineTo(x, y); else pen.moveTo(x, y);
    }
    pen.stroke();
  }
}

function show(n) {
  frame = Math.max(0, Math.min(last, Math.round(n)));
  slider.value = String(frame);
  draw();
}
function step(now) {
  if (!playing) return;
  const due = ((now - before) / 1000) * Number(pace.value) * data.rate;
  if (due >= 1) {
    before = now;
    if (frame >= last) { toggle(); return; }
    show(frame + due);
  }
  requestAnimationFrame(step);
}
function toggle() {
  playing = !playing;
  button.textContent = playing ? "Stop" : "Play";
  if (playing) {
    if (frame >= last) show(0);
    before = performance.now();
    requestAnimationFrame(step);
  }
}
button.addEventListener("click", toggle);
slider.addEventListener("input", () => show(Number(slider.value)));

function turn(yaw, pitch) {
  view.yaw += yaw;
  view.pitch = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, view.pitch + pitch));
  draw();
}
let held = null;
canvas.addEventListener("pointerdown", (e) => { held = [e.clientX, e.clientY]; canvas.setPointerCapture(e.pointerId); });
canvas.addEventListener("pointermove", (e) => {
  if (!held) return;
  turn(0.008 * (e.clientX - held[0]), 0.008 * (e.clientY - held[1]));
  held = [e.clientX, e.clientY];
});
for (const kind of ["pointerup", "pointercancel"]) canvas.addEventListener(kind, () => { held = null; });
function zoom(factor) { view.zoom = Math.max(0.3, Math.min(12, view.zoom * factor)); draw(); }
canvas.addEventListener("wheel", (e) => { e.preventDefault(); zoom(Math.exp(-0.001 * e.deltaY)); }, { passive: false });
canvas.addEventListener("keydown", (e) => {
  const steps = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] };
  if (e.key in steps) { e.preventDefault(); turn(...steps[e.key]); }
  else if (e.key === "+" || e.key === "=") zoom(1.15);
  else if (e.key === "-") zoom(1 / 1.15);
  else if (e.key === " ") { e.preventDefault(); toggle(); }
});
window.addEventListener("resize", draw);
show(0);
