// The gridded screen on a canvas: printed grid, outlines, glow, textbook trace, scale.
//
// Colours and face come from the canvas's style sheet, as custom properties.

import { Light, PEN_UP, decodePairs, unpack } from "./light.js";

const NARROW = 520; // CSS pixels: below it letters are small
const LEAST_APART = 4; // letters from one number of the scale to the next
const MAX_RATIO = 2; // device pixels in a CSS pixel
const MARGIN = { left: 50, right: 4, top: 6, bottom: 34, gap: 10, letter: 16 };
const SMALL_MARGIN = { left: 36, right: 10, top: 4, bottom: 28, gap: 10, letter: 13 };

// Room around a picture whose letters have a given size, with none to spare.
function marginOf(letter) {
  return {
    left: 2.4 * letter, right: 0.25 * letter, top: 0.25 * letter, bottom: 1.45 * letter,
    gap: 0.3 * letter, letter,
  };
}

// Steps of 1, 2 or 5 times a power of ten, at least `least` apart.
function niceStep(least) {
  const decade = 10 ** Math.floor(Math.log10(least));
  return decade * [1, 2, 5, 10].find((m) => m * decade >= least * 0.999);
}

export class ScreenDrawing {
  // `surface`: extent_mm [u0, u1, v0, v1] of the screen, view_mm of all that is drawn, grid_mm,
  // blur_mm, half_light, glow [r, g, b], across and up (names of the axes), mirrored (u grows to
  // the left), outlines_mm.
  constructor(canvas) {
    this.canvas = canvas;
    this.context = canvas.getContext("2d", { alpha: false, willReadFrequently: true });
    this.light = new Light();
    this.colours = getComputedStyle(canvas);
    this.picture = null;
    this.zoom = 1;
    this.centre = null; // [u, v] in mm; null for the middle of the view
    this.marker = null; // the chosen place along u, mm; null hides it
    this.letter = null; // size of the scale's letters in CSS pixels; null for the usual one
    this.isOnPaper = false; // dark ink on a light ground instead of light in the dark
    this.hasGlow = true;
    this.hasTextbook = true;
    this.showsBand = true;
    this.drawOver = () => {}; // draws over the picture; is given the layout
  }

  put(surface) {
    this.surface = surface;
    this.picture = null;
  }

  // {number, stamp, kind: "dots" | "lines", pairs, points (a path), box_mm, weight, textbook, band,
  // held, room: {ground, share, half_light} where it is shown as in a room}
  show(picture) {
    this.picture = {
      ...picture,
      pairs: decodePairs(picture.pairs),
      textbook: decodePairs(picture.textbook),
      band: decodePairs(picture.band),
      held: decodePairs(picture.held),
    };
  }

  get textbookPoints() {
    return this.picture ? this.picture.textbook.length / 2 : 0;
  }

  get hasBand() {
    return Boolean(this.picture?.band.length);
  }

  // The look of a room, which has no meaning for ink.
  get room() {
    return this.isOnPaper ? undefined : this.picture?.room;
  }

  // ---- places: mm on the screen <-> CSS pixels -------------------------------------------------

  layout() {
    const width = this.canvas.clientWidth;
    const height = this.canvas.clientHeight;
    const usual = width < NARROW ? SMALL_MARGIN : MARGIN;
    const margin = this.letter ? marginOf(this.letter) : usual;
    const [u0, u1, v0, v1] = this.surface.view_mm;
    const free = [width - margin.left - margin.right, height - margin.top - margin.bottom];
    const fit = Math.min(free[0] / (u1 - u0), free[1] / (v1 - v0));
    const scale = fit * this.zoom;
    const centre = this.centre ?? [(u0 + u1) / 2, (v0 + v1) / 2];
    const middle = [margin.left + free[0] / 2, margin.top + free[1] / 2];
    const sign = this.surface.mirrored ? -1 : 1;
    const stroke = Math.max(1, margin.letter / MARGIN.letter);
    return {
      width, height, margin, scale, fit, sign, stroke,
      x: (u) => middle[0] + sign * (u - centre[0]) * scale,
      y: (v) => middle[1] - (v - centre[1]) * scale,
      u: (x) => centre[0] + (sign * (x - middle[0])) / scale,
      v: (y) => centre[1] - (y - middle[1]) / scale,
    };
  }

  // ---- drawing ---------------------------------------------------------------------------------

  draw() {
    const { canvas } = this;
    const place = this.layout();
    if (!place.width || !place.height) return;
    const ratio = Math.min(MAX_RATIO, window.devicePixelRatio || 1);
    const size = [Math.round(place.width * ratio), Math.round(place.height * ratio)];
    if (canvas.width !== size[0] || canvas.height !== size[1]) [canvas.width, canvas.height] = size;
    const context = this.context;
    context.setTransform(ratio, 0, 0, ratio, 0, 0);
    context.fillStyle = this.colour("ground");
    context.fillRect(0, 0, place.width, place.height);
    this.drawSurface(place);
    context.save();
    this.clipToView(place);
    this.clipToBox(this.surface.extent_mm, place);
    if (this.hasGlow && this.picture?.weight) {
      const picture = { ...this.picture, room: this.room };
      this.light.draw(context, place, ratio, picture, this.surface, this.isOnPaper);
    }
    if (this.showsBand && this.hasBand) this.drawBand(place);
    if (this.picture?.held.length) this.drawHeld(place);
    if (this.hasTextbook && this.picture) this.drawTextbook(place);
    context.restore();
    context.save();
    this.clipToView(place);
    this.clipToBox(this.surface.view_mm, place);
    this.drawOver(place);
    context.restore();
    this.drawMarker(place);
    this.drawScale(place);
  }

  colour(name) {
    return this.colours.getPropertyValue(`--${name}`).trim();
  }

  clipToView({ width, height, margin }) {
    this.context.beginPath();
    this.context.rect(margin.left, margin.top, width - margin.left - margin.right,
      height - margin.top - margin.bottom);
    this.context.clip();
  }

  boxOf([u0, u1, v0, v1], place) {
    const left = Math.min(place.x(u0), place.x(u1));
    return [left, place.y(v1), (u1 - u0) * place.scale, (v1 - v0) * place.scale];
  }

  clipToBox(edges, place) {
    this.context.beginPath();
    this.context.rect(...this.boxOf(edges, place));
    this.context.clip();
  }

  drawSurface(place) {
    const context = this.context;
    const [u0, u1, v0, v1] = this.surface.extent_mm;
    context.save();
    this.clipToView(place);
    context.fillStyle = this.room?.ground ?? this.colour("sheet");
    context.fillRect(...this.boxOf(this.surface.extent_mm, place));
    const pitch = this.surface.grid_mm;
    context.lineWidth = 1;
    const lines = (from, to, draw) => {
      for (let k = Math.ceil(from / pitch - 1e-6); k <= to / pitch + 1e-6; k++) {
        context.strokeStyle = this.colour(k === 0 ? "grid-axis" : "grid");
        context.beginPath();
        draw(k * pitch);
        context.stroke();
      }
    };
    lines(u0, u1, (u) => {
      const x = Math.round(place.x(u)) + 0.5;
      context.moveTo(x, place.y(v0));
      context.lineTo(x, place.y(v1));
    });
    lines(v0, v1, (v) => {
      const y = Math.round(place.y(v)) + 0.5;
      context.moveTo(place.x(u0), y);
      context.lineTo(place.x(u1), y);
    });
    context.strokeStyle = this.colour("outline");
    context.lineWidth = 1.5 * place.stroke;
    for (const outline of this.surface.outlines_mm) {
      context.beginPath();
      outline.forEach(([u, v]) => context.lineTo(place.x(u), place.y(v)));
      context.stroke();
    }
    context.restore();
  }

  // Where the line may lie: its edges, and a breath of light between them.
  drawBand(place) {
    const { band } = this.picture;
    const { u, v } = unpack(this.picture);
    const context = this.context;
    context.beginPath();
    for (let i = 0; i < band.length; i += 2) {
      if (band[i] !== PEN_UP) context.lineTo(place.x(u(band[i])), place.y(v(band[i + 1])));
    }
    context.closePath();
    context.fillStyle = this.colour("band");
    context.globalAlpha = 0.16;
    context.fill();
    context.globalAlpha = 0.75;
    context.strokeStyle = this.colour("band");
    context.lineWidth = place.stroke;
    context.stroke();
    context.globalAlpha = 1;
  }

  // The line that is kept to compare with: dots, so that it is told from the others without colour.
  drawHeld(place) {
    const { held } = this.picture;
    const context = this.context;
    context.beginPath();
    this.tracePath(held, place);
    if (held.length === 2) {
      const { u, v } = unpack(this.picture);
      context.arc(place.x(u(held[0])), place.y(v(held[1])), 9 * place.stroke, 0, 2 * Math.PI);
    }
    context.lineCap = "round";
    context.setLineDash([0, 5 * place.stroke]);
    context.strokeStyle = this.colour("held");
    context.lineWidth = 2.5 * place.stroke;
    context.stroke();
    context.setLineDash([]);
    context.lineCap = "butt";
  }

  // Adds a line with interruptions to the path that is being drawn.
  tracePath(pairs, place) {
    const { u, v } = unpack(this.picture);
    let isUp = true;
    for (let i = 0; i < pairs.length; i += 2) {
      const wasUp = isUp;
      isUp = pairs[i] === PEN_UP;
      if (isUp) continue;
      const to = [place.x(u(pairs[i])), place.y(v(pairs[i + 1]))];
      if (wasUp) this.context.moveTo(...to);
      else this.context.lineTo(...to);
    }
  }

  drawTextbook(place) {
    const { textbook } = this.picture;
    const context = this.context;
    context.beginPath();
    if (textbook.length === 2) {
      const { u, v } = unpack(this.picture);
      const [x, y] = [place.x(u(textbook[0])), place.y(v(textbook[1]))];
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        context.moveTo(x + 6 * dx, y + 6 * dy);
        context.lineTo(x + 16 * dx, y + 16 * dy);
      }
    }
    this.tracePath(textbook, place);
    // On a dark bed, so that the dashes stand out from the brightest glow.
    context.strokeStyle = this.colour("bed");
    context.lineWidth = 4 * place.stroke;
    if (textbook.length > 2) context.setLineDash([7 * place.stroke, 6 * place.stroke]);
    context.stroke();
    context.strokeStyle = this.colour("textbook");
    context.lineWidth = 1.5 * place.stroke;
    context.stroke();
    context.setLineDash([]);
  }

  drawMarker(place) {
    if (this.marker === null) return;
    const x = place.x(this.marker);
    const bottom = place.height - place.margin.bottom;
    if (x < place.margin.left || x > place.width - place.margin.right) return;
    const context = this.context;
    context.strokeStyle = this.colour("marker");
    context.lineWidth = 1;
    context.setLineDash([1, 4]);
    context.beginPath();
    context.moveTo(x, place.margin.top);
    context.lineTo(x, bottom);
    context.stroke();
    context.setLineDash([]);
    context.fillStyle = this.colour("text");
    context.beginPath();
    context.moveTo(x - 5, bottom + 7);
    context.lineTo(x + 5, bottom + 7);
    context.lineTo(x, bottom);
    context.fill();
  }

  drawScale(place) {
    const context = this.context;
    const { margin, width, height, scale } = place;
    const { letter, gap } = margin;
    context.fillStyle = this.colour("text-quiet");
    context.font = `${letter}px ${this.colour("face")}`;
    const step = niceStep((LEAST_APART * letter) / scale);
    const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    const text = (value) => (Math.abs(value) < step / 2 ? "0" : value.toFixed(digits).replace("-", "−"));
    const [u0, u1, v0, v1] = this.surface.view_mm;
    const bottom = Math.min(height - margin.bottom, place.y(v0));
    const edge = Math.max(margin.left, Math.min(place.x(u0), place.x(u1)));
    context.textAlign = "center";
    context.textBaseline = "top";
    for (let k = Math.ceil(u0 / step - 1e-6); k <= u1 / step + 1e-6; k++) {
      const x = place.x(k * step);
      if (x > edge + 0.8 * letter && x < width - 8) context.fillText(text(k * step), x, bottom + gap);
    }
    context.textAlign = "right";
    context.fillText("mm", edge - gap, bottom + gap);
    context.textBaseline = "middle";
    for (let k = Math.ceil(v0 / step - 1e-6); k <= v1 / step + 1e-6; k++) {
      const y = place.y(k * step);
      if (y > margin.top && y < bottom - 6) context.fillText(text(k * step), edge - gap, y);
    }
  }
}
