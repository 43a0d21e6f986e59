// Lines of points [u, v] in mm: how they are spaced, how they follow a hand, how they are drawn.
//
// `turn` is -1 where u grows to the left on the page, else 1; `px` is a CSS pixel in mm.

const SMALLEST_DRAWN = 6; // CSS pixels: a smaller spot is drawn as four strokes around it

// Steps of 1, 2 or 5 times a power of ten, at least `least` apart.
function niceStep(least) {
  const decade = 10 ** Math.floor(Math.log10(least));
  return decade * [1, 2, 5, 10].find((m) => m * decade >= least * 0.999);
}

const between = (a, b, share) => [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share];
export const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

// How far along a line (from its first point) each of its points is.
export function lengths(points) {
  let sum = 0;
  return points.map((point, n) => (sum += n ? apart(points[n - 1], point) : 0));
}

// `count` points at equal distances along a line.
export function resampled(points, count) {
  const along = lengths(points);
  const whole = along[along.length - 1];
  if (count < 2 || points.length < 2 || whole === 0) return [points[points.length - 1]];
  let n = 1;
  return Array.from({ length: count }, (_, k) => {
    const wanted = (whole * k) / (count - 1);
    while (n < points.length - 1 && along[n] < wanted) n += 1;
    const part = along[n] - along[n - 1] || 1;
    return between(points[n - 1], points[n], Math.min(1, (wanted - along[n - 1]) / part));
  });
}

// Untouched points of a line follow the touched ones: from the gun on as a bend grows (with the
// square of the way), between two touched ones evenly, and beyond the last one the same way on.
export function follow(home, moved) {
  const along = lengths(home);
  const anchors = [...moved].sort(([a], [b]) => a - b);
  const offset = (n) => {
    const [first, [du, dv]] = anchors[0];
    if (anchors.length === 1 || n <= first) {
      const share = along[first] ? (along[n] / along[first]) ** 2 : 1;
      return [du * share, dv * share];
    }
    const after = anchors.findIndex(([each]) => each >= n);
    const k = after < 0 ? anchors.length - 1 : after;
    const [[a, from], [b, to]] = [anchors[k - 1], anchors[k]];
    return between(from, to, (along[n] - along[a]) / (along[b] - along[a] || 1));
  };
  return home.map((point, n) => {
    const [du, dv] = offset(n);
    return [point[0] + du, point[1] + dv];
  });
}

// ---- drawing: path data for a picture whose x is turn * u and whose y is -v ---------------------

const place = ([u, v], turn) => `${(turn * u).toFixed(2)} ${(-v).toFixed(2)}`;

export function linePath(points, turn) {
  return points.map((point, n) => `${n ? "L" : "M"}${place(point, turn)}`).join("");
}

// A smooth line through the points: cubics whose slope at a point is that of its neighbours.
export function curvePath(points, turn) {
  let path = linePath(points.slice(0, 1), turn);
  for (let n = 1; n < points.length; n++) {
    const [a, b] = [points[n - 1], points[n]];
    const [before, after] = [points[n - 2] ?? a, points[n + 1] ?? b];
    const bends = [
      [a[0] + (b[0] - before[0]) / 6, a[1] + (b[1] - before[1]) / 6],
      [b[0] - (after[0] - a[0]) / 6, b[1] - (after[1] - a[1]) / 6],
      b,
    ];
    path += `C${bends.map((point) => place(point, turn)).join(" ")}`;
  }
  return path;
}

export function spotPath([middle, edge], turn, px) {
  const radius = apart(middle, edge);
  const [x, y] = [turn * middle[0], -middle[1]];
  if (radius > SMALLEST_DRAWN * px) {
    return `M${x - radius} ${y}a${radius} ${radius} 0 1 0 ${2 * radius} 0a${radius} ${radius} 0 1 0 ${-2 * radius} 0Z`;
  }
  const [near, far] = [8 * px, 17 * px];
  const ways = [[1, 0], [-1, 0], [0, 1], [0, -1]];
  return ways.map(([a, b]) => `M${x + a * near} ${y + b * near}L${x + a * far} ${y + b * far}`).join("");
}

const multiples = (from, to, step) => {
  const first = Math.ceil(from / step - 1e-6);
  return Array.from({ length: Math.max(0, Math.floor(to / step + 1e-6) - first + 1) }, (_, n) => (first + n) * step);
};

export function gridPath({ extent_mm: [u0, u1, v0, v1], grid_mm }, turn) {
  const across = multiples(u0, u1, grid_mm).map((u) => `M${turn * u} ${-v0}V${-v1}`);
  const up = multiples(v0, v1, grid_mm).map((v) => `M${turn * u0} ${-v}H${turn * u1}`);
  return [...across, ...up].join("");
}

// The numbers beside the screen: {x, y, says, anchor}.
export function scaleTicks({ extent_mm: [u0, u1, v0, v1], view_mm }, turn, px) {
  const bottom = -view_mm[2] + 17 * px;
  const edge = Math.min(turn * u0, turn * u1);
  const step = niceStep(46 * px);
  const write = (value) => String(+value.toFixed(6)).replace("-", "−");
  const across = multiples(u0, u1, step)
    .filter((u) => turn * u > edge + 2 * px)
    .map((u) => ({ x: turn * u, y: bottom, says: write(u), anchor: "middle" }));
  const up = multiples(v0, v1, step)
    .filter((v) => v > view_mm[2] + 4 * px)
    .map((v) => ({ x: edge - 14 * px, y: -v + 5 * px, says: write(v), anchor: "end" }));
  return [{ x: edge - 14 * px, y: bottom, says: "mm", anchor: "end" }, ...across, ...up];
}
