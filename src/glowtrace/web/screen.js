// The gridded screen: the glow of the beam, the printed grid, the textbook trace, zoom and pan.
//
// One message from the server draws one frame; the "drawn" event answers it, and the server sends
// no second picture before that answer.

import { Light, PEN_UP, decodePairs, unpack } from "glowtrace-light";

const MAX_ZOOM = 16;
const MARGIN = { left: 50, right: 4, top: 6, bottom: 34 };

// Steps of 1, 2 or 5 times a power of ten, at least `least` apart.
function niceStep(least) {
  const decade = 10 ** Math.floor(Math.log10(least));
  return decade * [1, 2, 5, 10].find((m) => m * decade >= least * 0.999);
}

export default {
  template: `
    <figure class="screen" ref="frame">
      <figcaption class="screen-strip">
        <output class="screen-pointer" aria-hidden="true">{{ pointer }}</output>
        <span class="screen-legend">
          <i class="legend-glow"></i>glow
          <template v-if="textbookPoints"><i :class="textbookPoints > 1 ? 'legend-line' : 'legend-point'"></i>textbook</template>
        </span>
        <span class="screen-tools">
          <button type="button" aria-label="Zoom out" @click="zoomBy(1 / 1.5)">−</button>
          <button type="button" aria-label="Zoom in" @click="zoomBy(1.5)">+</button>
          <button type="button" aria-label="Show the whole screen" @click="reset">whole</button>
        </span>
      </figcaption>
      <div class="screen-face">
        <canvas ref="canvas" tabindex="0" role="img" :aria-label="description"
          @keydown="onKey" @wheel.prevent="onWheel" @pointerdown="onDown" @pointermove="onMove"
          @pointerup="onUp" @pointercancel="onUp" @pointerleave="pointer = ''"></canvas>
        <slot></slot>
      </div>
    </figure>`,

  props: {
    // extent_mm [u0, u1, v0, v1] of the screen, view_mm of all that is drawn, grid_mm, blur_mm,
    // half_light, glow [r, g, b], glow_label, across and up (names of the axes),
    // mirrored (u grows to the left), outlines_mm
    surface: Object,
    marker: Number, // the chosen place along u, mm; null hides it
    description: String,
  },

  data() {
    return { pointer: "", textbookPoints: 0 };
  },

  created() {
    // Plain fields: nothing here needs to be watched.
    this.picture = null;
    this.zoom = 1;
    this.centre = null;
    this.fingers = new Map();
    this.frames = 0;
    this.waiting = false;
    this.answered = -1;
  },

  mounted() {
    this.context = this.$refs.canvas.getContext("2d", { alpha: false, willReadFrequently: true });
    this.light = new Light();
    this.setUp();
    this.watcher = new ResizeObserver(() => this.redraw());
    this.watcher.observe(this.$refs.canvas);
    document.fonts?.ready.then(() => this.redraw());
  },

  beforeUnmount() {
    this.watcher.disconnect();
  },

  watch: {
    surface() {
      this.setUp();
    },
    marker() {
      this.redraw();
    },
  },

  methods: {
    setUp() {
      this.picture = null;
      this.textbookPoints = 0;
      this.reset();
    },

    // ---- messages from the server ------------------------------------------------------------

    // {number, stamp, kind: "dots" | "lines", pairs, points (a path), box_mm, weight, textbook,
    // room: {ground, share, half_light} where it is shown as in a room}
    show(picture) {
      picture.pairs = decodePairs(picture.pairs);
      picture.textbook = decodePairs(picture.textbook);
      this.textbookPoints = picture.textbook.length / 2;
      this.picture = picture;
      this.redraw();
    },

    redraw() {
      if (this.waiting) return;
      this.waiting = true;
      requestAnimationFrame(() => {
        this.waiting = false;
        this.draw();
        this.answer();
      });
    },

    // Tells the server that its picture stands on the screen, and keeps the times for a benchmark.
    answer() {
      const picture = this.picture;
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

    // ---- places: mm on the screen <-> CSS pixels ---------------------------------------------

    layout() {
      const canvas = this.$refs.canvas;
      const width = canvas.clientWidth;
      const height = canvas.clientHeight;
      const [u0, u1, v0, v1] = this.surface.view_mm;
      const small = width < 520;
      const margin = small ? { left: 36, right: 10, top: 4, bottom: 28 } : MARGIN;
      const free = [width - margin.left - margin.right, height - margin.top - margin.bottom];
      const fit = Math.min(free[0] / (u1 - u0), free[1] / (v1 - v0));
      const scale = fit * this.zoom;
      const centre = this.centre ?? [(u0 + u1) / 2, (v0 + v1) / 2];
      const middle = [margin.left + free[0] / 2, margin.top + free[1] / 2];
      const sign = this.surface.mirrored ? -1 : 1;
      return {
        width, height, margin, scale, fit, sign,
        x: (u) => middle[0] + sign * (u - centre[0]) * scale,
        y: (v) => middle[1] - (v - centre[1]) * scale,
        u: (x) => centre[0] + (sign * (x - middle[0])) / scale,
        v: (y) => centre[1] - (y - middle[1]) / scale,
      };
    },

    reset() {
      this.zoom = 1;
      this.centre = null;
      this.afterMove();
    },

    // Keeps the place under (x, y) where it is.
    zoomBy(factor, x, y) {
      const before = this.layout();
      const at = [x ?? before.width / 2, y ?? before.height / 2];
      const kept = [before.u(at[0]), before.v(at[1])];
      this.zoom = Math.min(MAX_ZOOM, Math.max(1, this.zoom * factor));
      const after = this.layout();
      this.panBy(kept[0] - after.u(at[0]), kept[1] - after.v(at[1]));
    },

    panBy(du, dv) {
      const [u0, u1, v0, v1] = this.surface.view_mm;
      const centre = this.centre ?? [(u0 + u1) / 2, (v0 + v1) / 2];
      const slack = (1 - 1 / this.zoom) / 2;
      const hold = (value, low, high) => {
        const reach = (high - low) * slack;
        const middle = (low + high) / 2;
        return Math.min(middle + reach, Math.max(middle - reach, value));
      };
      this.centre = this.zoom === 1 ? null : [hold(centre[0] + du, u0, u1), hold(centre[1] + dv, v0, v1)];
      this.afterMove();
    },

    afterMove() {
      // One finger scrolls the page until the picture is enlarged; then it pans the picture.
      if (this.$refs.canvas) this.$refs.canvas.style.touchAction = this.zoom > 1 ? "none" : "pan-y";
      if (this.context) this.redraw();
    },

    onKey(event) {
      const { scale, sign } = this.layout();
      const step = 40 / scale;
      const actions = {
        "+": () => this.zoomBy(1.5),
        "=": () => this.zoomBy(1.5),
        "-": () => this.zoomBy(1 / 1.5),
        0: () => this.reset(),
        ArrowLeft: () => this.panBy(-sign * step, 0),
        ArrowRight: () => this.panBy(sign * step, 0),
        ArrowUp: () => this.panBy(0, step),
        ArrowDown: () => this.panBy(0, -step),
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

    // ---- drawing -----------------------------------------------------------------------------

    draw() {
      const canvas = this.$refs.canvas;
      const place = this.layout();
      if (!place.width || !place.height) return;
      const ratio = Math.min(2, window.devicePixelRatio || 1);
      const size = [Math.round(place.width * ratio), Math.round(place.height * ratio)];
      if (canvas.width !== size[0] || canvas.height !== size[1]) [canvas.width, canvas.height] = size;
      const context = this.context;
      context.setTransform(ratio, 0, 0, ratio, 0, 0);
      context.fillStyle = this.colour("ground");
      context.fillRect(0, 0, place.width, place.height);
      this.drawSurface(place);
      context.save();
      this.clipToView(place);
      this.clipToSurface(place);
      if (this.picture?.weight) this.light.draw(context, place, ratio, this.picture, this.surface);
      if (this.picture) this.drawTextbook(place);
      context.restore();
      this.drawMarker(place);
      this.drawScale(place);
    },

    colour(name) {
      this.colours ??= getComputedStyle(this.$refs.frame);
      return this.colours.getPropertyValue(`--${name}`).trim();
    },

    clipToView({ width, height, margin }) {
      this.context.beginPath();
      this.context.rect(margin.left, margin.top, width - margin.left - margin.right,
        height - margin.top - margin.bottom);
      this.context.clip();
    },

    surfaceBox(place) {
      const [u0, u1, v0, v1] = this.surface.extent_mm;
      const left = Math.min(place.x(u0), place.x(u1));
      return [left, place.y(v1), (u1 - u0) * place.scale, (v1 - v0) * place.scale];
    },

    clipToSurface(place) {
      this.context.beginPath();
      this.context.rect(...this.surfaceBox(place));
      this.context.clip();
    },

    drawSurface(place) {
      const context = this.context;
      const [u0, u1, v0, v1] = this.surface.extent_mm;
      context.save();
      this.clipToView(place);
      context.fillStyle = this.picture?.room?.ground ?? this.colour("sheet");
      context.fillRect(...this.surfaceBox(place));
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
      context.lineWidth = 1.5;
      for (const outline of this.surface.outlines_mm) {
        context.beginPath();
        outline.forEach(([u, v]) => context.lineTo(place.x(u), place.y(v)));
        context.stroke();
      }
      context.restore();
    },

    drawTextbook(place) {
      const { textbook } = this.picture;
      const { u, v } = unpack(this.picture);
      const context = this.context;
      context.beginPath();
      if (textbook.length === 2) {
        const [x, y] = [place.x(u(textbook[0])), place.y(v(textbook[1]))];
        for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
          context.moveTo(x + 6 * dx, y + 6 * dy);
          context.lineTo(x + 16 * dx, y + 16 * dy);
        }
      }
      let isUp = true;
      for (let i = 0; i < textbook.length; i += 2) {
        const wasUp = isUp;
        isUp = textbook[i] === PEN_UP;
        if (isUp) continue;
        const to = [place.x(u(textbook[i])), place.y(v(textbook[i + 1]))];
        if (wasUp) context.moveTo(...to);
        else context.lineTo(...to);
      }
      // On a dark bed, so that the dashes stand out from the brightest glow.
      context.strokeStyle = this.colour("bed");
      context.lineWidth = 4;
      if (textbook.length > 2) context.setLineDash([7, 6]);
      context.stroke();
      context.strokeStyle = this.colour("textbook");
      context.lineWidth = 1.5;
      context.stroke();
      context.setLineDash([]);
    },

    drawMarker(place) {
      if (this.marker === null || this.marker === undefined) return;
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
    },

    drawScale(place) {
      const context = this.context;
      const { margin, width, height, scale } = place;
      const small = width < 520;
      context.fillStyle = this.colour("text-quiet");
      context.font = `${small ? 13 : 16}px ${this.colour("face")}`;
      const step = niceStep((small ? 44 : 64) / scale);
      const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
      const text = (value) => (Math.abs(value) < step / 2 ? "0" : value.toFixed(digits).replace("-", "−"));
      const [u0, u1, v0, v1] = this.surface.view_mm;
      const bottom = Math.min(height - margin.bottom, place.y(v0));
      const edge = Math.max(margin.left, Math.min(place.x(u0), place.x(u1)));
      context.textAlign = "center";
      context.textBaseline = "top";
      for (let k = Math.ceil(u0 / step - 1e-6); k <= u1 / step + 1e-6; k++) {
        const x = place.x(k * step);
        if (x > edge + 6 && x < width - 8) context.fillText(text(k * step), x, bottom + 10);
      }
      context.textAlign = "right";
      context.fillText("mm", edge - 9, bottom + 10);
      context.textBaseline = "middle";
      for (let k = Math.ceil(v0 / step - 1e-6); k <= v1 / step + 1e-6; k++) {
        const y = place.y(k * step);
        if (y > margin.top && y < bottom - 6) context.fillText(text(k * step), edge - 9, y);
      }
    },
  },
};
