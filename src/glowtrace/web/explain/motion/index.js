// What the stage draws with.

export { drawCharts } from "./charts.js";
export { Motion } from "./motion.js";
export { INKS, onPage, plain, power } from "./numbers.js";
export { drawView, layout } from "./views.js";
