// A photograph to be clicked on, with a loupe. Everything is told in pixels of the photograph, where
// the middle of the first pixel is (0, 0).
//
// The cross goes where the pointer is, or by the arrow keys (one pixel; with Shift ten). A click, or
// Enter, sets a grid point or takes hold of a point of the line; a point that is held is dragged, or
// nudged by the arrow keys; Delete removes it from the line or brings it back; Esc lets it go.

const LOUPE = [46, 66]; // radius on the page, smallest and largest
const LOUPE_SHARE = 0.13; // of the width
const ZOOM = 5; // page pixels of the loupe for one of the photograph shown at full size
const NEAR = 14; // page pixels

export default {
  template: `
    <div class="photo-face">
      <canvas ref="canvas" tabindex="0" role="application" :aria-label="label"
        @pointermove="onMove" @pointerdown="onDown" @pointerup="onUp" @pointerleave="onLeave"
        @touchstart="onTouch" @keydown="onKey" @focus="redraw" @blur="redraw"></canvas>
      <button type="button" class="key" v-show="isHolding" @click="dropHeld">
        Take the held point out, or back
      </button>
    </div>`,

  props: { label: String },

  data() {
    return { isHolding: false };
  },

  mounted() {
    Object.assign(this, { image: null, size: [1, 1], grid: [], outline: [], crossings: [], line: [], predicted: [] });
    Object.assign(this, { cross: null, held: null, isDragging: false, mode: "grid", number: 0 });
    this.context = this.$refs.canvas.getContext("2d");
    this.watcher = new ResizeObserver(() => this.redraw());
    this.watcher.observe(this.$refs.canvas.parentElement);
  },

  unmounted() {
    this.watcher.disconnect();
  },

  methods: {
    load(url, width, height) {
      const image = new Image();
      image.onload = () => {
        this.image = image;
        this.cross = [width / 2, height / 2];
        this.redraw();
      };
      this.size = [width, height];
      this.held = null;
      image.src = url;
    },

    put(drawn) {
      Object.assign(this, drawn);
      if (this.held && this.held[1] >= this[this.held[0]].length) this.held = null;
      this.number += 1;
      this.redraw();
    },

    hold(kind, number) {
      this.held = [kind, number];
      this.redraw();
    },

    // ---- places ----------------------------------------------------------------------------------

    scale() {
      return this.$refs.canvas.clientWidth / this.size[0];
    },

    place(event) {
      const box = this.$refs.canvas.getBoundingClientRect();
      return [(event.clientX - box.left) / this.scale() - 0.5, (event.clientY - box.top) / this.scale() - 0.5];
    },

    onPage([column, row]) {
      return [(column + 0.5) * this.scale(), (row + 0.5) * this.scale()];
    },

    nearest(kind, place) {
      const reach = NEAR / this.scale();
      let best = null;
      this[kind].forEach((point, n) => {
        const away = Math.hypot(point.at[0] - place[0], point.at[1] - place[1]);
        if (away < reach && (best === null || away < best[1])) best = [n, away];
      });
      return best === null ? null : best[0];
    },

    inside([column, row]) {
      return [
        Math.min(Math.max(column, 0), this.size[0] - 1),
        Math.min(Math.max(row, 0), this.size[1] - 1),
      ];
    },

    // ---- pointer and keys ------------------------------------------------------------------------

    onMove(event) {
      this.cross = this.inside(this.place(event));
      if (this.isDragging && this.held) {
        this[this.held[0]][this.held[1]].at = this.cross;
        this.hasMoved = true;
      }
      this.redraw();
    },

    onDown(event) {
      if (!this.image || event.button) return;
      this.cross = this.inside(this.place(event));
      const kind = this.mode === "grid" ? "grid" : "line";
      const n = this.nearest(kind, this.cross);
      this.hasMoved = false;
      if (n !== null) {
        this.held = [kind, n];
        this.isDragging = true;
        this.$refs.canvas.setPointerCapture(event.pointerId);
      } else {
        this.held = null;
        this.pressedAt = [event.clientX, event.clientY];
        if (event.pointerType === "touch") this.isPlacing = true;
        else this.click();
      }
      this.redraw();
    },

    // A finger on a point drags it; elsewhere it scrolls the page.
    onTouch(event) {
      if (event.touches.length !== 1) return;
      const kind = this.mode === "grid" ? "grid" : "line";
      if (this.nearest(kind, this.place(event.touches[0])) !== null) event.preventDefault();
    },

    onUp(event) {
      if (this.isDragging && this.hasMoved) this.tellMove();
      if (this.isPlacing && Math.hypot(event.clientX - this.pressedAt[0], event.clientY - this.pressedAt[1]) < 10) this.click();
      this.isDragging = this.isPlacing = false;
      this.redraw();
    },

    // The same as the key Delete, for those who have no keys.
    dropHeld() {
      if (this.held) this.$emit("removed", ...this.held);
    },

    onLeave() {
      if (!this.isDragging && document.activeElement !== this.$refs.canvas) this.cross = null;
      this.redraw();
    },

    click() {
      this.$emit("clicked", ...this.cross);
    },

    tellMove() {
      const [kind, n] = this.held;
      this.$emit("moved", kind, n, ...this[kind][n].at);
    },

    onKey(event) {
      if (!this.image) return;
      const step = event.shiftKey ? 10 : 1;
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (way) {
        event.preventDefault();
        const from = this.held ? this[this.held[0]][this.held[1]].at : (this.cross ?? this.size.map((s) => s / 2));
        this.cross = this.inside([from[0] + step * way[0], from[1] + step * way[1]]);
        if (this.held) {
          this[this.held[0]][this.held[1]].at = this.cross;
          clearTimeout(this.telling);
          this.telling = setTimeout(() => this.held && this.tellMove(), 350);
        }
      } else if (event.key === "Enter" && this.cross) {
        event.preventDefault();
        const kind = this.mode === "grid" ? "grid" : "line";
        const n = this.held ? null : this.nearest(kind, this.cross);
        if (n !== null) this.held = [kind, n];
        else if (this.held) this.held = null;
        else this.click();
      } else if ((event.key === "Delete" || event.key === "Backspace") && this.held) {
        event.preventDefault();
        this.$emit("removed", ...this.held);
      } else if (event.key === "Escape") this.held = null;
      else return;
      this.redraw();
    },

    // ---- drawing ---------------------------------------------------------------------------------

    redraw() {
      cancelAnimationFrame(this.frame);
      this.frame = requestAnimationFrame(() => this.draw());
    },

    draw() {
      const canvas = this.$refs.canvas;
      if (!canvas || !this.image) return;
      this.isHolding = this.held !== null;
      const ratio = window.devicePixelRatio || 1;
      const width = canvas.parentElement.clientWidth;
      const height = (width * this.size[1]) / this.size[0];
      canvas.style.height = `${height}px`;
      canvas.width = Math.round(width * ratio);
      canvas.height = Math.round(height * ratio);
      const context = this.context;
      context.setTransform(ratio, 0, 0, ratio, 0, 0);
      context.drawImage(this.image, 0, 0, width, height);
      this.drawOver(context);
      if (this.cross) this.drawLoupe(context, width, height);
      const [grid, line, predicted] = [this.grid, this.line, this.predicted].map((each) => each.length);
      canvas.glowtrace = { number: this.number, grid, line, predicted };
    },

    drawOver(context) {
      this.path(context, this.outline, "rgb(240 223 194 / 75%)", 1.2);
      for (const at of this.crossings) {
        const [x, y] = this.onPage(at);
        this.strokes(context, [[x - 3, y, x + 3, y], [x, y - 3, x, y + 3]], "rgb(240 223 194 / 80%)", 1.2);
      }
      this.line.forEach((point, n) => this.drawPoint(context, point, n));
      for (const piece of this.predicted) {
        this.path(context, piece, "#000", 4);
        this.path(context, piece, "#ffb040", 2.5, [9, 6]);
      }
      this.grid.forEach((point, n) => {
        const [x, y] = this.onPage(point.at);
        const isHeld = this.held?.[0] === "grid" && this.held[1] === n;
        const lines = [[x - 11, y, x - 3, y], [x + 3, y, x + 11, y], [x, y - 11, x, y - 3], [x, y + 3, x, y + 11]];
        this.strokes(context, lines, "#000", 5);
        this.strokes(context, lines, isHeld ? "#ff9d76" : "#fff", 2);
        context.font = "15px Glowtrace, sans-serif";
        context.fillStyle = "#000";
        const room = context.measureText(point.says).width + 8;
        const left = x + 8 + room > this.$refs.canvas.clientWidth ? x - 8 - room : x + 8;
        context.fillRect(left, y + 6, room, 20);
        context.fillStyle = "#f0dfc2";
        context.fillText(point.says, left + 4, y + 21);
      });
    },

    drawPoint(context, point, n) {
      const [x, y] = this.onPage(point.at);
      const isHeld = this.held?.[0] === "line" && this.held[1] === n;
      if (point.half) {
        const [dx, dy] = point.half.map((each) => each * this.scale());
        this.strokes(context, [[x - dx, y - dy, x + dx, y + dy]], "rgb(255 255 255 / 55%)", 1);
      }
      context.beginPath();
      if (point.removed) {
        context.moveTo(x - 4, y - 4), context.lineTo(x + 4, y + 4);
        context.moveTo(x - 4, y + 4), context.lineTo(x + 4, y - 4);
      } else context.arc(x, y, isHeld ? 6 : this.$refs.canvas.clientWidth < 500 ? 1.2 : 2.6, 0, 2 * Math.PI);
      context.lineWidth = isHeld ? 3 : 1.6;
      context.strokeStyle = isHeld ? "#ff9d76" : point.removed ? "#b3a58b" : point.byHand ? "#ff9d76" : "#fff";
      context.stroke();
    },

    drawLoupe(context, width, height) {
      const at = this.held ? this[this.held[0]][this.held[1]].at : this.cross;
      const [x, y] = this.onPage(at);
      // In the corner away from the cross, so that it hides nothing that is looked at.
      const size = Math.min(Math.max(LOUPE_SHARE * width, LOUPE[0]), LOUPE[1]);
      const middle = [x < width / 2 ? width - size - 8 : size + 8, size + 8];
      const zoom = Math.max(ZOOM * Math.min(this.scale(), 1), 2);
      const real = this.image.naturalWidth / this.size[0];
      const span = size / zoom;
      context.save();
      context.beginPath();
      context.arc(...middle, size, 0, 2 * Math.PI);
      context.fillStyle = "#000";
      context.fill();
      context.clip();
      context.imageSmoothingEnabled = false;
      context.filter = "brightness(2)"; // printed lines are faint in a dark room
      context.drawImage(
        this.image, (at[0] + 0.5 - span) * real, (at[1] + 0.5 - span) * real, 2 * span * real, 2 * span * real,
        middle[0] - size, middle[1] - size, 2 * size, 2 * size,
      );
      context.restore();
      const [mx, my] = middle;
      this.strokes(context, [[mx - size, my, mx - 5, my], [mx + 5, my, mx + size, my], [mx, my - size, mx, my - 5], [mx, my + 5, mx, my + size]], "rgb(240 223 194 / 85%)", 1);
      context.beginPath();
      context.arc(mx, my, size, 0, 2 * Math.PI);
      context.lineWidth = 2;
      context.strokeStyle = "#f0dfc2";
      context.stroke();
      if (!this.held) this.strokes(context, [[x - 9, y, x + 9, y], [x, y - 9, x, y + 9]], "rgb(240 223 194 / 90%)", 1);
    },

    path(context, points, colour, width, dash = []) {
      if (points.length < 2) return;
      context.beginPath();
      points.forEach((point, n) => context[n ? "lineTo" : "moveTo"](...this.onPage(point)));
      context.setLineDash(dash);
      context.lineWidth = width;
      context.strokeStyle = colour;
      context.stroke();
      context.setLineDash([]);
    },

    strokes(context, lines, colour, width) {
      context.beginPath();
      for (const [x0, y0, x1, y1] of lines) context.moveTo(x0, y0), context.lineTo(x1, y1);
      context.lineWidth = width;
      context.strokeStyle = colour;
      context.stroke();
    },
  },
};
