// The audience's page: draws what the desk shows, as large as the window allows.

import { ScreenDrawing } from "../drawing/index.js";
import { Feed } from "./feed.js";
import { arrange } from "./arrangement.js";
import { drawPointer } from "./pointer.js";

const stage = document.getElementById("stage");
const values = document.getElementById("values");
const canvas = document.getElementById("canvas");
const whole = document.getElementById("whole");
const drawing = new ScreenDrawing(canvas);
const shown = { surface: null, picture: null, knobs: { rows: [] }, pointer: null, manner: null };
let isWaiting = false;
let frames = 0;

const feed = new Feed((parts) => {
  take(parts);
  redraw();
});

function take(parts) {
  Object.assign(shown, parts);
  if (parts.surface) drawing.put(parts.surface);
  if (parts.picture) drawing.show(parts.picture);
  if (parts.knobs) putValues(parts.knobs.rows);
  if (parts.manner) putManner(parts.manner);
  if (parts.surface || parts.knobs || parts.manner) arrangeAll();
}

function putManner({ blank, look, textbook }) {
  stage.classList.toggle("is-blank", blank);
  document.documentElement.classList.toggle("is-light", look === "light");
  drawing.isOnPaper = look === "light";
  drawing.hasTextbook = textbook;
  drawing.showsBand = false; // how well the desk knows its tube is no matter for the hall
}

function putValues(rows) {
  const texts = rows.flatMap(({ name, value, note }) => [name, value, note]);
  const places = [...values.querySelectorAll("dt, dd, small")];
  if (places.length !== texts.length) {
    values.replaceChildren(...rows.map(makeRow));
    return putValues(rows);
  }
  places.forEach((place, i) => {
    if (place.textContent !== texts[i]) place.textContent = texts[i];
  });
}

function makeRow() {
  const row = document.createElement("div");
  const [name, value, note] = ["dt", "dd", "small"].map((tag) => document.createElement(tag));
  row.append(name, " ", value, " ", note);
  return row;
}

// Letters as large as the last row needs and the window allows; tells the desk how large they are.
function arrangeAll() {
  if (!shown.surface || !shown.manner) return;
  const { letter, figure, isBeside } = arrange({
    width: window.innerWidth,
    height: window.innerHeight,
    screenWidth: window.screen.width,
    wanted: shown.manner.letter,
    rows: shown.knobs.rows,
    view: shown.surface.view_mm,
    face: drawing.colour("face"),
  });
  stage.classList.toggle("is-beside", isBeside);
  stage.style.setProperty("--letter", `${letter}px`);
  drawing.letter = letter;
  feed.tell({ letter: figure / window.screen.width });
}

function redraw() {
  if (isWaiting) return;
  isWaiting = true;
  requestAnimationFrame(() => {
    isWaiting = false;
    draw();
  });
}

function draw() {
  if (!shown.surface) return;
  drawing.draw();
  drawPointer(drawing, shown.pointer);
  if (shown.picture) {
    const { number, resting } = shown.picture;
    frames += 1;
    canvas.glowtrace = { number, resting, frames }; // for a benchmark
  }
  feed.tell({ drawn: 1 });
}

// ---- by hand -------------------------------------------------------------------------------------

let resting = 0;

function stir() {
  document.body.classList.remove("is-quiet");
  clearTimeout(resting);
  resting = setTimeout(() => document.body.classList.add("is-quiet"), 3000);
}

function toggleWhole() {
  if (document.fullscreenElement) document.exitFullscreen();
  else document.documentElement.requestFullscreen?.().catch(() => {});
}

const KEYS = {
  f: toggleWhole,
  b: () => feed.tell({ do: "blank" }),
  h: () => feed.tell({ do: "hold" }),
};

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  KEYS[event.key.toLowerCase()]?.();
});
document.addEventListener("pointermove", stir);
document.addEventListener("fullscreenchange", () => {
  whole.hidden = Boolean(document.fullscreenElement);
});
whole.addEventListener("click", toggleWhole);
new ResizeObserver(() => {
  arrangeAll();
  redraw();
}).observe(document.documentElement);
new ResizeObserver(redraw).observe(canvas);
document.fonts.ready.then(() => {
  arrangeAll();
  redraw();
});
stir();
feed.open();
