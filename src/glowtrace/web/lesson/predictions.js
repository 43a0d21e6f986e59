// The screen on the desk with what learners drew over it, the computed picture and what was seen.

import { ScreenDrawing } from "glowtrace-drawing";

const LONGEST = 2000; // places of a line that is being drawn

export default {
  template: `
    <canvas ref="canvas" class="predictions" role="img" :aria-label="description"
      :style="{ touchAction: drawing ? 'none' : 'auto' }" @pointerdown="onDown"
      @pointermove="onMove" @pointerup="onUp"></canvas>`,

  props: {
    surface: Object,
    description: String,
    drawing: Boolean, // whether the hand draws what was seen
    hidesPicture: Boolean,
  },

  created() {
    this.lines = new Map(); // learner -> places in mm
    this.seen = [];
    this.hand = null;
    this.waiting = false;
  },

  mounted() {
    this.sheet = new ScreenDrawing(this.$refs.canvas);
    this.sheet.put(this.surface);
    this.watcher = new ResizeObserver(() => this.redraw());
    this.watcher.observe(this.$refs.canvas);
  },

  beforeUnmount() {
    this.watcher.disconnect();
  },

  watch: {
    hidesPicture() {
      this.redraw();
    },
    surface(now, before) {
      // Every property comes anew when one of them changes; the picture goes with another screen.
      if (JSON.stringify(now) === JSON.stringify(before)) return;
      this.sheet.put(now);
      this.redraw();
    },
  },

  methods: {
    show(picture) {
      this.sheet.show(picture);
      this.redraw();
    },

    // [learner, places][] that are new or were changed; `anew` forgets the ones before.
    put(lines, anew) {
      if (anew) this.lines.clear();
      for (const [learner, line] of lines) this.lines.set(learner, line);
      this.redraw();
    },

    putSeen(lines) {
      this.seen = lines;
      this.redraw();
    },

    redraw() {
      if (this.waiting || !this.sheet) return;
      this.waiting = true;
      requestAnimationFrame(() => {
        this.waiting = false;
        this.draw();
      });
    },

    draw() {
      const { sheet } = this;
      sheet.hasGlow = sheet.hasTextbook = !this.hidesPicture;
      sheet.draw();
      const place = sheet.layout();
      if (!place.width) return;
      const pen = sheet.context;
      pen.save();
      sheet.clipToView(place);
      pen.lineJoin = pen.lineCap = "round";
      const faint = Math.max(0.3, Math.min(0.85, 6 / Math.max(1, this.lines.size)));
      for (const line of this.lines.values()) {
        this.stroke(pen, place, line, `rgb(255 196 107 / ${faint})`, 2, []);
      }
      for (const line of this.seen) this.stroke(pen, place, line, "#f0dfc2", 2.5, [9, 7]);
      if (this.hand) this.stroke(pen, place, this.hand, "#f0dfc2", 2.5, []);
      pen.restore();
    },

    stroke(pen, place, line, colour, width, dash) {
      pen.strokeStyle = pen.fillStyle = colour;
      pen.lineWidth = width;
      pen.setLineDash(dash);
      pen.beginPath();
      if (line.length === 1) {
        pen.arc(place.x(line[0][0]), place.y(line[0][1]), 5, 0, 7);
        pen.fill();
        return;
      }
      for (const [u, v] of line) pen.lineTo(place.x(u), place.y(v));
      pen.stroke();
    },

    at(event) {
      const place = this.sheet.layout();
      return [place.u(event.offsetX), place.v(event.offsetY)];
    },

    onDown(event) {
      if (!this.drawing) return;
      this.$refs.canvas.setPointerCapture(event.pointerId);
      this.hand = [this.at(event)];
    },

    onMove(event) {
      if (!this.hand || this.hand.length > LONGEST) return;
      this.hand.push(this.at(event));
      this.redraw();
    },

    onUp() {
      if (!this.hand) return;
      const step = Math.max(1, Math.ceil(this.hand.length / 80));
      const line = this.hand.filter((_, n) => n % step === 0 || n === this.hand.length - 1);
      this.hand = null;
      this.$emit("seen", line.map((each) => each.map((mm) => Math.round(mm * 100) / 100)));
    },
  },
};
