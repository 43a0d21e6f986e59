// The gridded screen on the desk: its drawing, and zoom, pan, reading and pointing by hand.
//
// One message from the server draws one frame; the "drawn" event answers it, and the server sends
// no second picture before that answer.

import { ScreenDrawing } from "glowtrace-drawing";

const MAX_ZOOM = 16;
const POINTER_STEPS = 60; // of a key, from edge to edge of the view

export default {
  template: `
    <figure class="screen">
      <figcaption class="screen-strip">
        <output class="screen-pointer" aria-hidden="true">{{ pointer }}</output>
        <span class="row screen-legend">
          <i class="legend-glow"></i>glow
          <template v-if="textbookPoints"><i :class="textbookPoints > 1 ? 'legend-line' : 'legend-point'"></i>textbook</template>
          <template v-if="hasBand"><i class="legend-band"></i>may lie here, 95 %</template>
          <template v-if="holding"><i class="legend-held"></i>held</template>
        </span>
        <span class="screen-tools">
          <button type="button" :disabled="!undoable" title="Ctrl + Z" @click="$emit('undo')">undo</button>
          <button type="button" :aria-pressed="holding" title="C" @click="$emit('hold')">{{ holding ? "let go" : "hold" }}</button>
          <button type="button" aria-label="Zoom out" @click="zoomBy(1 / 1.5)">−</button>
          <button type="button" aria-label="Zoom in" @click="zoomBy(1.5)">+</button>
          <button type="button" aria-label="Show the whole screen" @click="reset">whole</button>
        </span>
      </figcaption>
      <div class="screen-face" :class="{ 'is-pointing': pointing }">
        <canvas ref="canvas" tabindex="0" role="img" :aria-label="description || 'The picture is on its way.'"
          @keydown="onKey" @wheel.prevent="onWheel" @pointerdown="onDown" @pointermove="onMove"
          @pointerup="onUp" @pointercancel="onUp" @pointerleave="onLeave"></canvas>
        <slot></slot>
      </div>
    </figure>`,

  props: {
    surface: Object, // as for ScreenDrawing
    marker: Number, // the chosen place along u, mm; null hides it
    description: String,
    pointing: Boolean, // the hand over the picture points for the audience
    holding: Boolean, // a line is kept to compare with
    undoable: Boolean, // a knob was turned
  },

  data() {
    return { pointer: "", textbookPoints: 0, hasBand: false };
  },

  created() {
    // Plain fields: nothing here needs to be watched.
    this.fingers = new Map();
    this.frames = 0;
    this.waiting = false;
    this.answered = -1;
    this.pointed = null;
    this.isTelling = false;
  },

  mounted() {
    this.drawing = new ScreenDrawing(this.$refs.canvas);
    this.setUp();
    this.watcher = new ResizeObserver(() => this.redraw());
    this.watcher.observe(this.$refs.canvas);
    document.addEventListener("keydown", this.onPageKey);
    document.fonts?.ready.then(() => this.redraw());
  },

  beforeUnmount() {
    this.watcher.disconnect();
    document.removeEventListener("keydown", this.onPageKey);
  },

  watch: {
    surface() {
      this.setUp();
    },
    marker() {
      this.redraw();
    },
    pointing() {
      this.setTouch();
      this.point(null);
    },
  },

  methods: {
    setUp() {
      this.drawing.put(this.surface);
      this.textbookPoints = 0;
      this.hasBand = false;
      this.reset();
    },

    // ---- messages from the server ------------------------------------------------------------

    show(picture) {
      this.drawing.show(picture);
      this.textbookPoints = this.drawing.textbookPoints;
      this.hasBand = this.drawing.hasBand;
      this.redraw();
    },

    redraw() {
      if (this.waiting) return;
      this.waiting = true;
      requestAnimationFrame(() => {
        this.waiting = false;
        this.drawing.marker = this.marker ?? null;
        this.drawing.draw();
        this.answer();
      });
    },

    // Tells the server that its picture stands on the screen, and keeps the times for a benchmark.
    answer() {
      const { picture } = this.drawing;
      if (!picture || picture.number === this.answered) return;
      this.answered = picture.number;
      this.frames += 1;
      const latency = picture.stamp ? performance.now() - picture.stamp : null;
      this.$refs.canvas.glowtrace = {
        frames: this.frames,
        latency_ms: latency,
        resting: picture.resting,
        number: picture.number,
      };
      this.$emit("drawn", picture.number);
    },

    // ---- zoom and pan ------------------------------------------------------------------------

    layout() {
      return this.drawing.layout();
    },

    reset() {
      this.drawing.zoom = 1;
      this.drawing.centre = null;
      this.afterMove();
    },

    // Keeps the place under (x, y) where it is.
    zoomBy(factor, x, y) {
      const before = this.layout();
      const at = [x ?? before.width / 2, y ?? before.height / 2];
      const kept = [before.u(at[0]), before.v(at[1])];
      this.drawing.zoom = Math.min(MAX_ZOOM, Math.max(1, this.drawing.zoom * factor));
      const after = this.layout();
      this.panBy(kept[0] - after.u(at[0]), kept[1] - after.v(at[1]));
    },

    panBy(du, dv) {
      const { zoom, centre } = this.drawing;
      const [u0, u1, v0, v1] = this.surface.view_mm;
      const from = centre ?? [(u0 + u1) / 2, (v0 + v1) / 2];
      const slack = (1 - 1 / zoom) / 2;
      const hold = (value, low, high) => {
        const reach = (high - low) * slack;
        const middle = (low + high) / 2;
        return Math.min(middle + reach, Math.max(middle - reach, value));
      };
      this.drawing.centre = zoom === 1 ? null : [hold(from[0] + du, u0, u1), hold(from[1] + dv, v0, v1)];
      this.afterMove();
    },

    afterMove() {
      this.setTouch();
      this.redraw();
    },

    // One finger scrolls the page until the picture is enlarged; then it pans the picture. While
    // it points it does neither.
    setTouch() {
      const isHeld = this.drawing.zoom > 1 || this.pointing;
      this.$refs.canvas.style.touchAction = isHeld ? "none" : "pan-y";
    },

    // Anywhere on the page but in a field that is being typed in, which undoes its own.
    onPageKey(event) {
      const { target, key } = event;
      const isField = target.matches("input:not([type=range]):not([type=radio]), select, textarea");
      const isCommand = event.ctrlKey || event.metaKey;
      if (isCommand && !event.shiftKey && key.toLowerCase() === "z") {
        if (isField && target.dataset.typing !== "false") return;
        event.preventDefault();
        this.$emit("undo");
      } else if (key.toLowerCase() === "c" && !isCommand && !event.altKey && !isField) {
        this.$emit("hold");
      }
    },

    onKey(event) {
      const { scale, sign } = this.layout();
      const step = 40 / scale;
      const move = (du, dv) => (this.pointing ? this.movePointer(du, dv) : this.panBy(du * step, dv * step));
      const actions = {
        "+": () => this.zoomBy(1.5),
        "=": () => this.zoomBy(1.5),
        "-": () => this.zoomBy(1 / 1.5),
        0: () => this.reset(),
        ArrowLeft: () => move(-sign, 0),
        ArrowRight: () => move(sign, 0),
        ArrowUp: () => move(0, 1),
        ArrowDown: () => move(0, -1),
      };
      if (!actions[event.key] || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      actions[event.key]();
    },

    onWheel(event) {
      this.zoomBy(Math.exp(-event.deltaY / 300), event.offsetX, event.offsetY);
    },

    onDown(event) {
      this.fingers.set(event.pointerId, [event.offsetX, event.offsetY]);
      this.travelled = this.fingers.size > 1 ? Infinity : 0;
      this.$refs.canvas.setPointerCapture(event.pointerId);
    },

    onMove(event) {
      const place = this.layout();
      const now = [event.offsetX, event.offsetY];
      const { across, up } = this.surface;
      const digits = place.scale > 40 ? 2 : 1;
      const text = (value) => value.toFixed(digits).replace("-", "−");
      this.pointer = `${across} ${text(place.u(now[0]))}   ${up} ${text(place.v(now[1]))} mm`;
      if (this.pointing) this.point([place.u(now[0]), place.v(now[1])]);
      const last = this.fingers.get(event.pointerId);
      if (!last) return;
      const distance = ([x, y]) => Math.hypot(now[0] - x, now[1] - y);
      const other = [...this.fingers].find(([id]) => id !== event.pointerId)?.[1];
      this.fingers.set(event.pointerId, now);
      if (other) {
        const before = Math.hypot(last[0] - other[0], last[1] - other[1]);
        if (before > 0) this.zoomBy(distance(other) / before, (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
        return;
      }
      this.travelled += distance(last);
      this.panBy(place.u(last[0]) - place.u(now[0]), place.v(last[1]) - place.v(now[1]));
    },

    onUp(event) {
      const wasClick = this.fingers.delete(event.pointerId) && this.travelled < 4;
      if (wasClick && event.type === "pointerup") this.$emit("choose", this.layout().u(event.offsetX));
    },

    onLeave() {
      this.pointer = "";
      if (this.pointing) this.point(null);
    },

    // ---- pointing for the audience -----------------------------------------------------------

    movePointer(du, dv) {
      const [u0, u1, v0, v1] = this.surface.view_mm;
      const step = (u1 - u0) / POINTER_STEPS;
      const [u, v] = this.pointed ?? [(u0 + u1) / 2, (v0 + v1) / 2];
      const hold = (value, low, high) => Math.min(high, Math.max(low, value));
      this.point([hold(u + du * step, u0, u1), hold(v + dv * step, v0, v1)]);
    },

    // Tells the newest place [u, v] in mm, once a frame; null points nowhere.
    point(place) {
      this.pointed = place;
      if (this.isTelling) return;
      this.isTelling = true;
      requestAnimationFrame(() => {
        this.isTelling = false;
        this.$emit("point", this.pointed);
      });
    },
  },
};
