// The screen to be sketched on: what is expected (thin dashes), what a chosen cause would look like
// (glow), and the line that the visitor sees, as handles to be dragged or drawn freehand.
//
// Places are mm on the screen, as the server has them. Handles are elements of the page, so that
// Tab finds them and arrow keys move them; the untouched ones follow until they are touched.

import { apart, curvePath, follow, gridPath, lengths, linePath, resampled, scaleTicks, spotPath } from "glowtrace-lines";

const NEAR = 26; // CSS pixels around a handle that take hold of it
const STANDS_OFF = 26; // CSS pixels between the edge of a spot and its handle
const SMALLEST = 0.3; // mm: radius of the smallest spot
const SHORTEST = 4; // mm: a shorter stroke is a slip of the hand
const BESIDE = 42; // CSS pixels for the numbers on the left
const RESTS_AFTER = 450; // ms after the last arrow key

export default {
  template: `
    <div class="sketch" @keydown="onKey">
      <svg ref="svg" class="sketch-face" :class="{ 'is-drawing': stroke }" :viewBox="viewBox"
        role="group" :aria-label="label" @pointerdown="onDown" @pointermove="onMove"
        @pointerup="onUp" @pointercancel="onUp">
        <rect class="sketch-sheet" :x="sheet[0]" :y="sheet[1]" :width="sheet[2]" :height="sheet[3]"/>
        <path class="drawn-grid" :d="gridPath"/>
        <path class="drawn-outline" :d="outlines"/>
        <g v-if="shown_name" :transform="'scale(' + turn + ' -1)'">
          <path class="glow-band" :d="shown.band"/>
          <path class="glow-middle" :d="shown.middle"/>
        </g>
        <g class="sketch-scale" :font-size="14 * px">
          <text v-for="tick in ticks" :x="tick.x" :y="tick.y" :text-anchor="tick.anchor">{{ tick.says }}</text>
        </g>
        <path class="sketch-bed" :d="expectedPath"/>
        <path class="drawn-textbook" :d="expectedPath"/>
        <path class="sketch-bed" :d="seenPath"/>
        <path class="sketch-seen" :d="seenPath"/>
        <g v-for="(point, n) in handles" :key="n" class="sketch-handle" :class="{ 'is-home': !isSketched }"
          tabindex="0" role="slider" :aria-label="name(n)"
          aria-orientation="vertical" :aria-valuenow="point[1].toFixed(1)"
          :aria-valuemin="surface.view_mm[2]" :aria-valuemax="surface.view_mm[3]"
          :aria-valuetext="says(point)" :data-number="n" @focus="focused = n" @blur="focused = null">
          <circle class="sketch-halo" :cx="x(grip(n))" :cy="y(grip(n))" :r="15 * px"/>
          <circle class="sketch-dot" :cx="x(grip(n))" :cy="y(grip(n))" :r="(held === n ? 9 : 6.5) * px"/>
        </g>
      </svg>
      <div class="row spread column-head">
        <span class="row quiet sketch-place" role="status">{{ place }}<template v-if="!place && shown_name"><i class="legend-glow"></i>{{ shown_name }}</template></span>
        <button type="button" class="plain" :disabled="!past.length" @click="undo">Undo</button>
        <button type="button" class="plain" :disabled="!isSketched" @click="clear">Clear the sketch</button>
      </div>
    </div>`,

  props: {
    surface: Object, // extent_mm, view_mm, grid_mm, outlines_mm, mirrored, across, up, is_spot, may_loop
    expected: Array, // pieces of the expected line, each [[u, v], ...]; a spot: its middle and edge
    shown: Object, // what a cause would look like: middle and band as path data in mm
    shown_name: String, // and what it is called
    handle_count: Number,
    label: String,
  },

  data() {
    return { seen: [], moved: [], held: null, focused: null, stroke: null, past: [], px: 0.2 };
  },

  created() {
    this.telling = null;
  },

  mounted() {
    this.watcher = new ResizeObserver(() => this.measure());
    this.watcher.observe(this.$refs.svg);
    this.measure();
  },

  beforeUnmount() {
    this.watcher.disconnect();
    clearTimeout(this.telling);
  },

  computed: {
    turn() {
      return this.surface.mirrored ? -1 : 1;
    },
    // Room for the numbers beside the screen.
    room() {
      return { left: BESIDE * this.px, right: 12 * this.px, top: 8 * this.px, bottom: 24 * this.px };
    },
    viewBox() {
      const [u0, u1, v0, v1] = this.surface.view_mm;
      const left = Math.min(this.turn * u0, this.turn * u1);
      const { left: beside, right, top, bottom } = this.room;
      return `${left - beside} ${-v1 - top} ${u1 - u0 + beside + right} ${v1 - v0 + top + bottom}`;
    },
    sheet() {
      const [u0, u1, v0, v1] = this.surface.extent_mm;
      return [Math.min(this.turn * u0, this.turn * u1), -v1, u1 - u0, v1 - v0];
    },
    gridPath() {
      return gridPath(this.surface, this.turn);
    },
    outlines() {
      return this.surface.outlines_mm.map((each) => linePath(each, this.turn)).join("");
    },
    ticks() {
      return scaleTicks(this.surface, this.turn, this.px);
    },
    // Where the handles stand before they are touched.
    home() {
      const longest = [...this.expected].sort((a, b) => b.length - a.length)[0];
      if (!longest?.length) return this.middle();
      return this.surface.is_spot ? longest : resampled(longest, this.handle_count);
    },
    isSketched() {
      return this.seen.length > 0;
    },
    handles() {
      return this.isSketched ? this.seen : this.home;
    },
    expectedPath() {
      return this.expected.map((piece) => this.drawn(piece, linePath)).join("");
    },
    seenPath() {
      if (this.stroke) return linePath(this.stroke, this.turn);
      return this.isSketched ? this.drawn(this.seen, curvePath) : "";
    },
    place() {
      const n = this.held ?? this.focused;
      return n === null || !this.handles[n] ? "" : this.says(this.handles[n]);
    },
  },

  methods: {
    // ---- messages from the server ------------------------------------------------------------

    // Takes a line over: [[u, v], ...] in mm; none clears it.
    put(points) {
      this.remember();
      this.seen = points;
      this.moved = points.map((_, n) => n);
    },

    // Takes a line over that was told before; there is nothing to be undone.
    start(points) {
      this.put(points);
      this.past = [];
    },

    // ---- places ------------------------------------------------------------------------------

    measure() {
      const box = this.$refs.svg?.getBoundingClientRect();
      const [u0, u1] = this.surface.view_mm;
      const [v0, v1] = this.surface.view_mm.slice(2);
      if (!box || box.width < 80) return;
      this.px = Math.max((u1 - u0) / (box.width - BESIDE - 12), (v1 - v0) / (box.height - 32));
    },
    middle() {
      const [u0, u1, v0, v1] = this.surface.extent_mm;
      const v = (v0 + v1) / 2;
      if (this.surface.is_spot) return [[(u0 + u1) / 2, v], [(u0 + u1) / 2 + (u1 - u0) / 15, v]];
      return resampled([[u0, v], [u1, v]], this.handle_count);
    },
    x(point) {
      return this.turn * point[0];
    },
    y(point) {
      return -point[1];
    },
    drawn(points, draw) {
      return this.surface.is_spot ? spotPath(points, this.turn, this.px) : draw(points, this.turn);
    },
    // Where a handle is taken hold of: the edge of a spot stands off, so that it never hides under
    // the middle.
    grip(n) {
      const point = this.handles[n];
      return this.isEdge(n) ? [point[0] + this.turn * STANDS_OFF * this.px, point[1]] : point;
    },
    isEdge(n) {
      return this.surface.is_spot && n === 1;
    },
    name(n) {
      if (this.surface.is_spot) return n ? "Edge of the spot" : "Middle of the spot";
      return `Point ${n + 1} of ${this.handles.length}`;
    },
    says([u, v]) {
      const write = (value) => value.toFixed(1).replace("-", "−");
      const edge = this.surface.is_spot && this.handles[1];
      if (edge && edge[0] === u && edge[1] === v) return `radius ${write(apart(this.handles[0], edge))} mm`;
      return `${this.surface.across} ${write(u)} mm, ${this.surface.up} ${write(v)} mm`;
    },
    at(event) {
      const matrix = this.$refs.svg.getScreenCTM().inverse();
      const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
      return this.inside([this.turn * point.x, -point.y]);
    },
    inside([u, v]) {
      const [u0, u1, v0, v1] = this.surface.extent_mm;
      return [Math.min(u1, Math.max(u0, u)), Math.min(v1, Math.max(v0, v))];
    },

    // ---- pointer and keys --------------------------------------------------------------------

    onDown(event) {
      if (event.button || this.held !== null || this.stroke) return;
      const at = this.at(event);
      const near = this.handles.map((_, n) => [apart(this.grip(n), at), n]).sort(([a], [b]) => a - b)[0];
      event.preventDefault();
      this.$refs.svg.setPointerCapture(event.pointerId);
      const isNear = near[0] < NEAR * this.px;
      if (isNear || this.surface.is_spot) {
        this.held = isNear ? near[1] : 0;
        this.$refs.svg.querySelector(`[data-number="${this.held}"]`)?.focus({ preventScroll: true });
        if (!isNear) this.begin(0, at);
      } else this.stroke = [at];
    },
    onMove(event) {
      if (this.held !== null) this.begin(this.held, this.at(event));
      else if (this.stroke) {
        const at = this.at(event);
        if (apart(at, this.stroke[this.stroke.length - 1]) > 2 * this.px) this.stroke = [...this.stroke, at];
      }
    },
    onUp() {
      if (this.stroke) this.finish(this.stroke);
      else if (this.held !== null && this.hasBegun) this.tell();
      this.stroke = this.held = null;
      this.hasBegun = false;
    },
    // Moves a handle; the first step of a move is remembered for undoing it.
    begin(n, at) {
      if (!this.hasBegun) {
        if (apart(at, this.grip(n)) < 2 * this.px) return;
        this.remember();
        this.hasBegun = true;
      }
      this.move(n, at);
    },
    move(n, at) {
      if (this.surface.is_spot) {
        this.moveSpot(n, at);
        return;
      }
      const to = this.inside(at);
      const home = this.home;
      if (!this.isSketched) this.moved = [];
      if (!this.moved.includes(n)) this.moved = [...this.moved, n];
      const now = this.isSketched ? [...this.seen] : [...home];
      now[n] = to;
      const isFree = this.moved.length === now.length || now.length !== home.length;
      if (isFree) this.seen = now;
      else {
        const offsets = this.moved.map((k) => [k, [now[k][0] - home[k][0], now[k][1] - home[k][1]]]);
        this.seen = follow(home, offsets).map((each) => this.inside(each));
      }
    },
    moveSpot(n, at) {
      const [middle, edge] = this.handles;
      const to = n ? middle : this.inside(at);
      const radius = n ? Math.max(SMALLEST, apart(middle, at) - STANDS_OFF * this.px) : apart(middle, edge);
      this.seen = [to, [to[0] + this.turn * radius, to[1]]];
    },
    // A freehand line becomes handles; it begins where the beam does.
    finish(stroke) {
      if (lengths(stroke).pop() < SHORTEST || !this.goesAlong(stroke)) return;
      const start = this.home[0];
      const isBackwards = apart(stroke[stroke.length - 1], start) < apart(stroke[0], start);
      this.remember();
      this.seen = resampled(isBackwards ? stroke.reverse() : stroke, this.handle_count);
      this.moved = this.seen.map((_, n) => n);
      this.tell();
    },
    // A beam that grazes a sheet goes along it: a stroke that does not was meant to scroll.
    goesAlong(stroke) {
      const [u0, u1] = this.surface.extent_mm;
      const us = stroke.map(([u]) => u);
      return this.surface.may_loop || Math.max(...us) - Math.min(...us) > 0.15 * (u1 - u0);
    },
    onKey(event) {
      if ((event.ctrlKey || event.metaKey) && event.key === "z") {
        event.preventDefault();
        this.undo();
        return;
      }
      const way = { ArrowLeft: [-this.turn, 0], ArrowRight: [this.turn, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      const n = this.focused;
      if (!way || n === null) return;
      event.preventDefault();
      const step = (event.shiftKey ? 5 : 1) * (this.surface.is_spot ? 0.5 : 1);
      const [u, v] = this.grip(n);
      if (!this.telling) this.remember();
      if (this.isEdge(n)) this.move(n, [u + this.turn * step * (this.turn * way[0] + way[1]), v]);
      else this.move(n, [u + way[0] * step, v + way[1] * step]);
      clearTimeout(this.telling);
      this.telling = setTimeout(() => this.tell(), RESTS_AFTER);
    },
    remember() {
      this.past = [...this.past, { seen: this.seen, moved: this.moved }].slice(-50);
    },
    undo() {
      const before = this.past[this.past.length - 1];
      if (!before) return;
      this.past = this.past.slice(0, -1);
      Object.assign(this, before);
      this.tell();
    },
    clear() {
      this.remember();
      this.seen = [];
      this.moved = [];
      this.tell();
    },
    tell() {
      clearTimeout(this.telling);
      this.telling = null;
      this.$emit("sketched", this.seen.map(([u, v]) => [+u.toFixed(2), +v.toFixed(2)]));
    },
  },
};
