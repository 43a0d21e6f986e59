// Views: a plane with two axes of space, the path in it, and the arrows at the electron.
//
// Some views draw their second axis larger than the first, and say so.

import { FULL_TURN, INKS, NAMES, NOTHING, arrow, line, niceStep, plain, power, size } from "./numbers.js";

const SHORTEST_ARROW = 5; // CSS pixels
const FLAT = 0.12; // part of a vector in the view, from which it is drawn as an arrow
const MARGIN = { left: 46, right: 10, top: 26, bottom: 30 };

// How a view lies on its canvas.
export function layout(view, width, height) {
  const [u0, u1, v0, v1] = view.window;
  const room = [width - MARGIN.left - MARGIN.right, height - MARGIN.top - MARGIN.bottom];
  const across = Math.min(room[0] / (u1 - u0), room[1] / ((v1 - v0) * view.stretch));
  const up = across * view.stretch;
  const left = MARGIN.left + (room[0] - across * (u1 - u0)) / 2;
  const top = MARGIN.top + (room[1] - up * (v1 - v0)) / 2;
  const [a, b] = view.axes;
  return {
    view, width, height, across, up, left, top, right: left + across * (u1 - u0),
    bottom: top + up * (v1 - v0),
    u: (u) => left + across * (u - u0), v: (v) => top + up * (v1 - v),
    point: (place) => [left + across * (place[a] - u0), top + up * (v1 - place[b])],
    flat: (vector) => [vector[a], vector[b]],
  };
}

export function drawView(context, place, motion, now, colours) {
  const { view } = place;
  context.save();
  drawScale(context, place, colours);
  context.beginPath();
  context.rect(place.left, place.top, place.right - place.left, place.bottom - place.top);
  context.clip();
  drawFlux(context, place, colours);
  for (const shape of view.shapes) drawShape(context, place, shape, colours);
  if (view.circle) drawCircle(context, place, view.circle, colours);
  if (view.other) drawOther(context, place, view.other, colours);
  drawPath(context, place, motion, now, colours);
  context.restore();
  drawArrows(context, place, motion, now, colours);
}

function drawScale(context, place, colours) {
  const [u0, u1, v0, v1] = place.view.window;
  context.font = `15px ${colours.face}`;
  context.fillStyle = colours.quiet;
  context.strokeStyle = colours.grid;
  context.lineWidth = 1;
  const ticks = (low, high, scale, least) => {
    const step = niceStep(least / scale);
    const from = Math.ceil(low / step - 1e-9);
    return Array.from({ length: Math.floor(high / step + 1e-9) - from + 1 }, (_, n) => (from + n) * step);
  };
  context.textAlign = "center";
  context.textBaseline = "top";
  for (const u of ticks(u0, u1, place.across, 58)) {
    line(context, [place.u(u), place.top], [place.u(u), place.bottom]);
    context.fillText(plain(u, 0), place.u(u), place.bottom + 6);
  }
  context.textAlign = "right";
  context.textBaseline = "middle";
  const step = niceStep(34 / place.up);
  for (const v of ticks(v0, v1, place.up, 34)) {
    line(context, [place.left, place.v(v)], [place.right, place.v(v)]);
    context.fillText(plain(v, step < 1 ? 1 : 0), place.left - 7, place.v(v));
  }
}

// Signs of a field across the view (out of it, into it) or in it, faint over the whole view.
function drawFlux(context, place, colours) {
  const sign = { out: "⊙", in: "⊗", right: "→", left: "←", up: "↑", down: "↓" }[place.view.flux];
  if (!sign) return;
  context.strokeStyle = context.fillStyle = INKS.magnetic;
  context.globalAlpha = 0.26;
  context.lineWidth = 1.3;
  const gap = Math.max(66, (place.right - place.left) / 12);
  for (let x = place.left + gap / 2; x < place.right; x += gap) {
    for (let y = place.top + gap / 2; y < place.bottom; y += gap) fluxSign(context, place.view.flux, x, y);
  }
  context.globalAlpha = 1;
}

function fluxSign(context, flux, x, y) {
  if (flux === "out" || flux === "in") {
    context.beginPath();
    context.arc(x, y, 6, 0, FULL_TURN);
    context.stroke();
    context.beginPath();
    if (flux === "out") {
      context.arc(x, y, 1.8, 0, FULL_TURN);
      context.fill();
    } else {
      line(context, [x - 4, y - 4], [x + 4, y + 4]);
      line(context, [x - 4, y + 4], [x + 4, y - 4]);
    }
    return;
  }
  const [dx, dy] = { right: [1, 0], left: [-1, 0], up: [0, -1], down: [0, 1] }[flux];
  arrow(context, [x - 11 * dx, y - 11 * dy], [x + 11 * dx, y + 11 * dy], 5);
}

function drawShape(context, place, shape, colours) {
  context.strokeStyle = { metal: colours.metal, glass: colours.glass, sheet: colours.sheet }[shape.ink];
  context.lineWidth = { metal: 4, glass: 1.2, sheet: 1 }[shape.ink];
  context.lineCap = "butt";
  context.beginPath();
  if (shape.circle) {
    const [u, v, radius] = shape.circle;
    context.ellipse(place.u(u), place.v(v), radius * place.across, radius * place.up, 0, 0, FULL_TURN);
  } else {
    shape.line.forEach(([u, v], n) => context[n ? "lineTo" : "moveTo"](place.u(u), place.v(v)));
  }
  context.stroke();
  if (shape.sign) {
    const [u, v] = shape.sign_at;
    context.font = `500 22px ${colours.face}`;
    context.fillStyle = colours.text;
    context.textAlign = "center";
    context.textBaseline = "middle";
    context.fillText(shape.sign, place.u(u), place.v(v) + (shape.below ? 14 : -12));
  }
}

function drawCircle(context, place, [u, v, radius], colours) {
  context.strokeStyle = colours.text;
  context.lineWidth = 1.4;
  context.setLineDash([5, 6]);
  context.beginPath();
  context.ellipse(place.u(u), place.v(v), radius * place.across, radius * place.up, 0, 0, FULL_TURN);
  context.stroke();
  context.setLineDash([]);
  context.beginPath();
  context.arc(place.u(u), place.v(v), 2.5, 0, FULL_TURN);
  context.fillStyle = colours.text;
  context.fill();
}

// The same electron in the other kind of fields.
function drawOther(context, place, points, colours) {
  context.strokeStyle = colours.text;
  context.lineWidth = 1.3;
  context.setLineDash([5, 6]);
  context.beginPath();
  points.forEach(([u, v], n) => context[n ? "lineTo" : "moveTo"](place.u(u), place.v(v)));
  context.stroke();
  context.setLineDash([]);
}

function drawPath(context, place, motion, now, colours) {
  const { view } = place;
  const read = (n) => place.point(motion.read(view.path, n));
  const stroke = (from, to, width, alpha) => {
    context.globalAlpha = alpha;
    context.lineWidth = width;
    context.beginPath();
    context.moveTo(...read(from));
    for (let n = Math.floor(from) + 1; n < to; n++) context.lineTo(...read(n));
    context.lineTo(...read(to));
    context.stroke();
  };
  context.strokeStyle = colours.glow;
  context.lineCap = context.lineJoin = "round";
  const last = motion.count - 1;
  stroke(0, last, 1.6, 0.45);
  if (view.bold) stroke(view.bold[0], view.bold[1], 3.2, 0.42);
  stroke(0, now.at, 9, 0.13);
  stroke(0, now.at, 3, 0.95);
  context.globalAlpha = 1;
  const [x, y] = read(now.at);
  context.beginPath();
  context.arc(x, y, 7, 0, FULL_TURN);
  context.fillStyle = colours.ground;
  context.fill();
  context.lineWidth = 2.5;
  context.strokeStyle = colours.text;
  context.stroke();
  context.fillStyle = colours.text;
  context.font = `500 15px ${colours.face}`;
  context.textAlign = "center";
  context.textBaseline = "middle";
  context.fillText("−", x, y + 0.5);
}

// Arrows at the electron: both forces, what they make together, and the velocity; named at the tip.
function drawArrows(context, place, motion, now, colours) {
  const from = place.point(now.position);
  const reach = Math.min(0.3 * Math.min(place.width, 1.6 * place.height), 150);
  const wanted = [["velocity", motion.most.velocity, 0.8 * reach]];
  if (size(now.electric) > NOTHING * motion.most.force && size(now.magnetic) > NOTHING * motion.most.force) {
    wanted.push(["force", motion.most.force, reach]);
  }
  wanted.push(["electric", motion.most.force, reach], ["magnetic", motion.most.force, reach]);
  const taken = [[from[0], from[1], 14, 14]];
  const labels = [];
  for (const [name, most, long] of wanted) {
    const [a, b] = place.flat(now[name]).map((part) => (part / (most || 1)) * long);
    const length = Math.hypot(a, b);
    if (length < Math.max(SHORTEST_ARROW, FLAT * (size(now[name]) / (most || 1)) * long)) {
      if (size(now[name]) > 0.02 * most) labels.push([name, drawDepth(context, place, now[name], from, name)]);
      continue;
    }
    const to = [from[0] + a, from[1] - b];
    context.strokeStyle = context.fillStyle = INKS[name];
    context.lineWidth = name === "force" ? 5 : 3;
    context.setLineDash(name === "velocity" ? [9, 5] : []);
    const start = Math.min(9 / length, 0.5);
    arrow(context, [from[0] + a * start, from[1] - b * start], to, name === "force" ? 13 : 11);
    context.setLineDash([]);
    labels.push([name, to]);
    for (const part of [0.25, 0.5, 0.75]) taken.push([from[0] + part * a, from[1] - part * b, 3, 6]);
  }
  drawForceScale(context, place, motion, reach, colours);
  for (const [name, to] of labels) {
    context.fillStyle = INKS[name];
    label(context, place, NAMES[name], from, to, taken, colours);
  }
}

// A vector that points at the visitor, or away: a ring with a dot, or with a cross, at the electron.
function drawDepth(context, place, vector, from, name) {
  const [a, b] = place.view.axes;
  const depth = vector[3 - a - b] * (a === 0 ? 1 : -1); // towards the visitor
  context.strokeStyle = context.fillStyle = INKS[name];
  context.lineWidth = 2;
  context.setLineDash([]);
  const to = [from[0], from[1] + 24];
  fluxSign(context, depth > 0 ? "out" : "in", ...to);
  return to;
}

// How long an arrow a round force has, above the view.
function drawForceScale(context, place, motion, reach, colours) {
  if (motion.most.force === 0) return;
  const force = niceStep(0.2 * motion.most.force);
  const long = (reach * force) / motion.most.force;
  const [right, y] = [place.right, place.top - 12];
  context.strokeStyle = context.fillStyle = colours.quiet;
  context.lineWidth = 3;
  line(context, [right - long, y], [right, y]);
  context.font = `15px ${colours.face}`;
  context.textAlign = "right";
  context.textBaseline = "middle";
  context.fillText(power(force * 1e-15, "N", 1), right - long - 9, y);
}

// A name beside an arrow's tip, moved away from names that are there already.
function label(context, place, text, from, to, taken, colours) {
  context.font = `500 17px ${colours.face}`;
  context.textAlign = "center";
  context.textBaseline = "middle";
  const wide = context.measureText(text).width / 2 + 3;
  const way = [to[0] - from[0], to[1] - from[1]];
  const long = Math.hypot(...way) || 1;
  const unit = way.map((part) => part / long);
  const free = (x, y) => taken.every(([a, b, w, h]) => Math.abs(a - x) > w + wide || Math.abs(b - y) > h + 10);
  const inside = (x, y) => x > wide && x < place.width - wide && y > 10 && y < place.height - 10;
  const choices = [];
  for (const far of [8, 24, 44]) {
    for (const turn of [0, 0.8, -0.8, 1.57, -1.57, 2.4, -2.4]) {
      const [a, b] = [Math.cos(turn), Math.sin(turn)];
      const [dx, dy] = [a * unit[0] - b * unit[1], b * unit[0] + a * unit[1]];
      const away = Math.abs(dx) * wide + Math.abs(dy) * 10 + far;
      choices.push([to[0] + dx * away, to[1] + dy * away]);
    }
  }
  const [x, y] = choices.find((each) => free(...each) && inside(...each)) ?? choices[0];
  taken.push([x, y, wide, 10]);
  context.lineWidth = 4;
  context.strokeStyle = "rgb(10 9 8 / 80%)";
  context.strokeText(text, x, y);
  context.fillText(text, x, y);
}
