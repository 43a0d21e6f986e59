// Sizes of forces and energy over the time of flight.

import { INKS, NAMES, NOTHING, line, power } from "./numbers.js";

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
