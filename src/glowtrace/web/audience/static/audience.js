// The audience's page: draws what the desk shows, as large as the window allows.

import { ScreenDrawing } from "../drawing/index.js";
import { arrange } from "./arrangement.js";
import { Feed } from "./feed.js";
import { drawMarks } from "./marks.js";
import { putKnobs, putLesson } from "./words.js";

const stage = document.getElementById("stage");
const knobs = document.getElementById("knobs");
const canvas = document.getElementById("canvas");
const camera = new Image();
const pointer = document.getElementById("pointer");
const whole = document.getElementById("whole");
const drawing = new ScreenDrawing(canvas);
const shown = { surface: null, picture: null, pointer: null, manner: null, lesson: { marks: [] } };
let isWaiting = false;
let frames = 0;

camera.className = "camera";
camera.alt = "The camera’s picture, with what is computed and read";
drawing.showsBand = false; // how well the desk knows its tube is no matter for the hall
drawing.drawOver = (place) => drawMarks(drawing, shown.lesson.marks, place);

const feed = new Feed((parts) => {
  take(parts);
  if (parts.surface || parts.picture || parts.manner || parts.lesson) redraw();
  else if (parts.camera) camera.decode().catch(() => {}).then(() => feed.tell({ drawn: 1 }));
  else feed.tell({ drawn: 1 });
});

function take(parts) {
  Object.assign(shown, parts);
  if (parts.surface) drawing.put(parts.surface);
  if (parts.picture) drawing.show(parts.picture);
  if (parts.manner) putManner(parts.manner);
  if ("camera" in parts) putCamera(parts.camera);
  if (parts.lesson) putLesson(parts.lesson);
  const hasOtherKnobs = Boolean(parts.knobs) && putKnobs(knobs, parts.knobs.rows);
  drawing.hasGlow = !shown.lesson.hides;
  drawing.hasTextbook = Boolean(shown.manner?.textbook) && !shown.lesson.hides;
  if (parts.surface || parts.manner || parts.lesson || hasOtherKnobs) arrangeAll();
  if ("pointer" in parts || "camera" in parts) putPointer();
}

function putManner({ blank, look }) {
  document.body.classList.toggle("is-blank", blank);
  document.documentElement.classList.toggle("is-light", look === "light");
  drawing.isOnPaper = look === "light";
}

function putCamera(seen) {
  if (!seen) return camera.remove();
  camera.src = seen.picture;
  if (!camera.isConnected) canvas.after(camera);
}

function putPointer() {
  pointer.hidden = !shown.pointer || !shown.surface || Boolean(shown.camera);
  if (pointer.hidden) return;
  const place = drawing.layout();
  pointer.style.left = `${place.x(shown.pointer.u)}px`;
  pointer.style.top = `${place.y(shown.pointer.v)}px`;
}

// Letters as large as the last row needs and the window allows; tells the desk how large they are.
function arrangeAll() {
  if (!shown.surface || !shown.manner) return;
  feed.tell({ letter: arrange(stage, drawing, shown.manner.letter) });
  putPointer();
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
  if (shown.surface) drawing.draw();
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
