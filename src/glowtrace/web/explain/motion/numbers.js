// Numbers as they are written by hand, inks, and a little geometry.

const RAISED = { "-": "⁻", 0: "⁰", 1: "¹", 2: "²", 3: "³", 4: "⁴", 5: "⁵", 6: "⁶", 7: "⁷", 8: "⁸", 9: "⁹" };
const small = (signs) => [...signs].map((sign) => RAISED[sign]).join("");
// For the page, whose letters lack small raised ones.
export const onPage = (signs) => `<sup>${signs.replace("-", "−")}</sup>`;
export const FULL_TURN = 2 * Math.PI;
export const NOTHING = 1e-9; // of the largest value: rounding
export const INKS = {
  electric: "#ffb454", magnetic: "#62a8ff", force: "#fff6e6", velocity: "#e08be6",
};
export const NAMES = {
  electric: "electric", magnetic: "magnetic", force: "together", velocity: "velocity",
};

// "3.1 × 10⁻¹⁵ N" for what is drawn; `raise` writes the power otherwise.
export function power(value, unit, digits = 2, raise = small) {
  if (!Number.isFinite(value) || value === 0) return `0 ${unit}`;
  const [number, exponent] = value.toExponential(digits - 1).split("e");
  const raised = raise(String(Number(exponent)));
  return `${number.replace("-", "−")} × 10${raised} ${unit}`;
}

export function plain(value, decimals) {
  const text = Math.abs(value).toFixed(decimals);
  return (value < 0 && Number(text) !== 0 ? "−" : "") + text;
}

// Steps of 1, 2 or 5 times a power of ten, at least `least` apart.
export function niceStep(least) {
  const decade = 10 ** Math.floor(Math.log10(least));
  return decade * [1, 2, 5, 10].find((times) => times * decade >= least * 0.999);
}

export const size = (vector) => Math.hypot(...vector);
export const sum = (a, b) => a.map((each, n) => each + b[n]);

export function line(context, a, b) {
  context.beginPath();
  context.moveTo(...a);
  context.lineTo(...b);
  context.stroke();
}

export function arrow(context, from, to, head) {
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
