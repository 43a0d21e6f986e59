// One electron's motion as the server computed it, and how it is drawn: views, arrows, charts.
//
// Lengths are mm, times ns, velocities 10^6 m/s, forces 10^-15 N, energies eV. A view is a plane
// with two axes of space; some views draw their second axis larger than the first, and say so.

const RAISED = { "-": "⁻", 0: "⁰", 1: "¹", 2: "²", 3: "³", 4: "⁴", 5: "⁵", 6: "⁶", 7: "⁷", 8: "⁸", 9: "⁹" };
const FULL_TURN = 2 * Math.PI;
const NOTHING = 1e-9; // of the largest value: rounding
const SHORTEST_ARROW = 5; // CSS pixels
const MARGIN = { left: 46, right: 10, top: 10, bottom: 30 };
export const INKS = {
  electric: "#ffb454", magnetic: "#62a8ff", force: "#fff6e6", velocity: "#e08be6",
};
export const NAMES = {
  electric: "electric", magnetic: "magnetic", force: "together", velocity: "velocity",
};

// "3.1 × 10⁻¹⁵ N"
export function power(value, unit, digits = 2) {
  if (!Number.isFinite(value) || value === 0) return `0 ${unit}`;
  const [number, exponent] = value.toExponential(digits - 1).split("e");
  const raised = [...String(Number(exponent))].map((sign) => RAISED[sign]).join("");
  return `${number.replace("-", "−")} × 10${raised} ${unit}`;
}

// The same for the page, whose letters lack small raised ones.
export function raised(text) {
  const low = Object.fromEntries(Object.entries(RAISED).map(([sign, high]) => [high, sign.replace("-", "−")]));
  return text.replace(/[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+/g, (signs) => `<sup>${[...signs].map((sign) => low[sign]).join("")}</sup>`);
}

export function plain(value, decimals) {
  const text = Math.abs(value).toFixed(decimals);
  return (value < 0 && Number(text) !== 0 ? "−" : "") + text;
}

function decode(text) {
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  return new Float32Array(bytes.buffer);
}

// Steps of 1, 2 or 5 times a power of ten, at least `least` apart.
function niceStep(least) {
  const decade = 10 ** Math.floor(Math.log10(least));
  return decade * [1, 2, 5, 10].find((times) => times * decade >= least * 0.999);
}

const size = (vector) => Math.hypot(...vector);
const sum = (a, b) => a.map((each, n) => each + b[n]);

// The arrays of a message, read at any instant.
export class Motion {
  constructor(message) {
    this.message = message;
    this.arrays = Object.fromEntries(
      Object.entries(message.arrays).map(([name, text]) => [name, decode(text)]),
    );
    this.count = message.count;
    const { time, way } = this.arrays;
    this.duration = time[this.count - 1];
    this.length = way[this.count - 1];
    const all = Array.from({ length: this.count }, (_, n) => this.at(n));
    const sizes = (name) => all.map((now) => size(now[name]));
    this.rows = {
      electric: sizes("electric"), magnetic: sizes("magnetic"), force: sizes("force"),
      kinetic: all.map((now) => now.kinetic),
    };
    const { electric, magnetic, force } = this.rows;
    this.most = {
      force: Math.max(...electric, ...magnetic, ...force), velocity: Math.max(...sizes("velocity")),
    };
  }

  // A value (of `wide` numbers a point) at a place among the points, by straight lines between.
  read(name, at, wide = 3) {
    const values = this.arrays[name];
    const before = Math.min(Math.max(Math.floor(at), 0), this.count - 2);
    const part = Math.min(Math.max(at - before, 0), 1);
    return Array.from({ length: wide }, (_, n) => {
      const a = values[before * wide + n];
      return a + part * (values[(before + 1) * wide + n] - a);
    });
  }

  at(at) {
    const electric = this.read("electric", at);
    const magnetic = this.read("magnetic", at);
    const one = (name) => this.read(name, at, 1)[0];
    return {
      at, time: one("time"), way: one("way"), kinetic: one("kinetic"), potential: one("potential"),
      position: this.read("position", at), velocity: this.read("velocity", at),
      electric, magnetic, force: sum(electric, magnetic),
    };
  }

  seen(at) {
    const electric = this.read("seen_electric", at);
    const magnetic = this.read("seen_magnetic", at);
    return {
      at, position: this.read("seen_position", at), velocity: this.read("seen_velocity", at),
      electric, magnetic, force: sum(electric, magnetic),
    };
  }

  // The place among the points at a time in ns, or at a way in mm.
  where(name, value) {
    const values = this.arrays[name];
    let [low, high] = [0, this.count - 1];
    if (value <= values[0]) return 0;
    if (value >= values[high]) return high;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (values[middle] <= value) low = middle;
      else high = middle;
    }
    return low + (value - values[low]) / (values[high] - values[low] || 1);
  }
}

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
    if (length < SHORTEST_ARROW) continue;
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
  for (const [name, to] of labels) {
    context.fillStyle = INKS[name];
    label(context, place, NAMES[name], from, to, taken, colours);
  }
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

function line(context, a, b) {
  context.beginPath();
  context.moveTo(...a);
  context.lineTo(...b);
  context.stroke();
}

function arrow(context, from, to, head) {
  const angle = Math.atan2(to[1] - from[1], to[0] - from[0]);
  const tip = Math.min(head, Math.hypot(to[0] - from[0], to[1] - from[1]));
  const neck = [to[0] - tip * 0.8 * Math.cos(angle), to[1] - tip * 0.8 * Math.sin(angle)];
  line(context, from, neck);
  context.beginPath();
  context.moveTo(...to);
  for (const side of [-1, 1]) {
    context.lineTo(to[0] - tip * Math.cos(angle + side * 0.42), to[1] - tip * Math.sin(angle + side * 0.42));
  }
  context.closePath();
  context.fill();
}

function presentForces({ rows, most }) {
  const acts = ["electric", "magnetic"].filter((name) => Math.max(...rows[name]) > NOTHING * most.force);
  return acts.length > 1 ? [...acts, "force"] : acts;
}

// Sizes along the way: forces above, kinetic energy below, over the time.
export function drawCharts(context, width, height, motion, now, colours) {
  const gap = 18;
  const tall = (height - gap - 20) / 2;
  const lanes = [
    { title: "size of the forces", top: 0, inks: presentForces(motion) },
    { title: "kinetic energy", top: tall + gap, inks: ["kinetic"] },
  ];
  const x = (n) => 1 + (width - 2) * (motion.arrays.time[n] / motion.duration);
  for (const lane of lanes) {
    const rows = lane.inks.map((ink) => motion.rows[ink]);
    if (rows.length === 0) continue;
    const most = Math.max(...rows.flat()) || 1;
    const y = (value) => lane.top + 20 + (tall - 20) * (1 - value / most);
    context.strokeStyle = colours.grid;
    context.lineWidth = 1;
    line(context, [0, y(0)], [width, y(0)]);
    lane.inks.forEach((ink, k) => {
      const row = rows[k];
      context.strokeStyle = ink === "kinetic" ? INKS.velocity : INKS[ink];
      context.lineWidth = ink === "force" ? 3 : 2;
      context.setLineDash(ink === "magnetic" ? [7, 4] : []);
      context.beginPath();
      row.forEach((value, n) => context[n ? "lineTo" : "moveTo"](x(n), y(value)));
      context.stroke();
      context.setLineDash([]);
    });
    context.font = `15px ${colours.face}`;
    context.fillStyle = colours.quiet;
    context.textAlign = "left";
    context.textBaseline = "top";
    context.fillText(lane.title, 0, lane.top);
    let beside = context.measureText(lane.title).width + 14;
    if (lane.inks[0] !== "kinetic") {
      for (const ink of lane.inks) {
        context.fillStyle = INKS[ink];
        context.fillText(NAMES[ink], beside, lane.top);
        beside += context.measureText(NAMES[ink]).width + 12;
      }
    }
    context.fillStyle = colours.quiet;
    context.textAlign = "right";
    const top = lane.inks[0] !== "kinetic" ? power(most * 1e-15, "N") : `${most.toFixed(0)} eV`;
    if (beside + context.measureText(`highest ${top}`).width < width) context.fillText(`highest ${top}`, width, lane.top);
  }
  const here = 1 + (width - 2) * (now.time / motion.duration);
  context.strokeStyle = colours.text;
  context.lineWidth = 1.5;
  line(context, [here, 18], [here, height - 20]);
}
