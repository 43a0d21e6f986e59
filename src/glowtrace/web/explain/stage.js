// The stage: one electron on its path, with its forces and energies at the instant that is chosen.
//
// The server sends the whole motion once; scrubbing and playing happen here alone. Time runs evenly
// along the slider, so that the electron is seen to slow down where it does.

import { INKS, Motion, drawCharts, drawView, layout, onPage, plain, power } from "glowtrace-motion";

const STEPS = 1000; // of the slider
const PLAYS_FOR = 7000; // ms for the whole flight
const CALM_STEPS = 20; // of the flight, where motion on the page is not wanted
const LEAST_HEIGHT = 170;
const MOST_LEAST = 300; // in a low window too
const AROUND = 455; // CSS pixels of a window above and below the views, so that the slider is in sight
const FORCES = ["electric", "magnetic", "force"];
const LONG_NAMES = { electric: "Electric force", magnetic: "Magnetic force", force: "Both together" };

export default {
  template: `
    <div class="stage" :class="{ 'is-empty': !motion }">
      <div class="row is-written stage-top">
        <slot></slot>
        <div class="choice" role="radiogroup" aria-label="Seen by" v-if="motion && message.moving">
          <span class="choice-label">Seen by</span>
          <div class="choice-options">
            <label class="choice-option" v-for="(name, key) in frames" :key="key">
              <input type="radio" name="stage-frame" :value="key" :checked="frame === key" @change="chooseFrame(key)">
              <span>{{ name }}</span>
            </label>
          </div>
        </div>
      </div>
      <p class="small quiet" v-if="motion && message.frame_says">{{ message.frame_says }}</p>
      <div class="stage-grid" v-if="motion">
        <div class="stage-views" :class="'has-' + views.length">
          <figure v-for="view in views" :key="view.key" class="stage-view" :style="{ flexGrow: view.share }">
            <figcaption class="hint">{{ view.title }}</figcaption>
            <canvas :ref="'view-' + view.key" :aria-label="view.title.replace(/\\.$/, '') + '. ' + told" role="img" tabindex="0"
              @keydown="key" @pointerdown="grab($event, view)" @pointermove="drag($event, view)"
              @pointerup="dragged = false" @pointercancel="dragged = false"></canvas>
          </figure>
        </div>
        <div class="stage-now">
          <dl class="stage-forces" aria-label="Forces now">
            <div v-for="force in forces" :key="force.name" :style="{ '--ink': force.ink }" :class="'is-' + force.name">
              <dt>{{ force.says }}</dt><dd><span v-html="force.value"></span><span class="stage-way" v-if="force.way">{{ force.way }}</span></dd>
            </div>
          </dl>
          <div class="stage-energy" role="img" :aria-label="energy.told">
            <p class="row is-written spread quiet">Kinetic energy <b>{{ energy.kinetic }}</b></p>
            <div class="energy-bar">
              <span class="energy-kinetic" :style="{ width: energy.full + '%' }"></span>
              <span class="energy-change" :class="energy.gained ? 'is-gained' : 'is-stored'"
                :style="{ left: energy.from + '%', width: energy.wide + '%' }"></span>
              <span class="energy-gun" :style="{ left: energy.gun + '%' }"></span>
            </div>
            <p class="hint">{{ energy.words }}</p>
          </div>
          <dl class="stage-numbers rows" aria-label="The electron now">
            <div v-for="row in numbers" :key="row[0]"><dt>{{ row[0] }}</dt><dd v-html="row[1]"></dd></div>
          </dl>
        </div>
      <div class="row stage-run">
        <button type="button" class="key stage-play is-main" @click="play" :aria-pressed="isPlaying ? 'true' : 'false'">
          {{ isPlaying ? "Stop" : "Play" }}
        </button>
        <input class="slider" type="range" min="0" :max="steps" step="1" :value="slid" @input="slide"
          aria-label="Time of flight" :aria-valuetext="told" :style="{ '--turned': slid / steps }">
        <span class="stage-time">{{ time }}</span>
      </div>
      <div class="row stage-marks" role="group" aria-label="Go to">
        <button type="button" class="key" v-for="mark in message.marks" :key="mark.name + mark.at" @click="goTo(mark.at)"
          :aria-current="isAt(mark.at) ? 'true' : null">{{ mark.name }}</button>
      </div>
      <canvas ref="charts" class="stage-charts" role="img" @pointerdown="grabChart" @pointermove="dragChart"
        @pointerup="dragged = false" @pointercancel="dragged = false"
        aria-label="Forces and kinetic energy over the time of flight"></canvas>
      </div>
    </div>`,
  props: { frame0: String },
  emits: ["frame"],
  data() {
    return {
      steps: STEPS, message: null, motion: null, at: 0, frame: this.frame0 ?? "laboratory",
      isPlaying: false, dragged: false,
      frames: { laboratory: "the room", moving: "somebody who moves along", both: "both" },
    };
  },
  computed: {
    now() { return this.motion.at(this.at); },
    views() {
      const { message, frame } = this;
      if (!message.moving || frame === "laboratory") return message.views;
      return frame === "moving" ? [message.moving] : [...message.views, message.moving];
    },
    slid() { return Math.round((STEPS * this.now.time) / this.motion.duration); },
    time() { return `${plain(this.now.time, 2)} ns`; },
    told() {
      const [x, y] = this.now.position;
      const forces = this.forces.map((each) => `${each.says} ${each.value} ${each.way}`).join(", ");
      return `${this.time}: x ${plain(x, 1)} mm, y ${plain(y, 1)} mm, kinetic energy ${this.energy.kinetic}, ${forces}`;
    },
    forces() {
      const present = FORCES.filter((name) => name === "force" ? this.hasBoth : this.has(name));
      return present.map((name) => {
        const long = Math.hypot(...this.now[name]);
        const isNone = long < 1e-6 * this.motion.most.force;
        return {
          name, says: LONG_NAMES[name], ink: INKS[name],
          value: power(isNone ? 0 : long * 1e-15, "N", 2, onPage), way: isNone ? "" : wayOf(this.now[name]),
        };
      });
    },
    hasBoth() { return this.has("electric") && this.has("magnetic"); },
    energy() {
      const { kinetic, potential } = this.now;
      const { first, most } = this.message.energy;
      const stored = potential - this.message.energy.potential_first;
      const share = (value) => (100 * value) / most;
      const gained = stored < 0;
      const change = Math.abs(stored) < 5e-4 * first ? 0 : Math.abs(stored);
      const decimals = change < 9.95 ? 1 : 0;
      const words = change === 0
        ? (this.has("electric") ? "as much as at the start" : "the same all along: the magnetic force does no work")
        : gained ? `${change.toFixed(decimals)} eV of it are from the electric field`
          : `${change.toFixed(decimals)} eV more are stored in the electric field`;
      const text = `${kinetic.toFixed(kinetic < 99.95 ? 1 : 0)} eV`;
      return {
        kinetic: text, gained, words, full: share(kinetic), gun: share(first),
        from: share(gained ? kinetic - change : kinetic), wide: share(change),
        told: `Kinetic energy ${text}, ${words}`,
      };
    },
    numbers() {
      const { position, velocity, potential } = this.now;
      const speed = Math.hypot(...velocity) * 1e6;
      const share = (100 * speed) / 299792458;
      const [x, y, z] = position;
      const places = this.message.views.length > 1
        ? `x ${plain(x, 1)}, y ${plain(y, 2)}, z ${plain(z, 2)} mm` : `x ${plain(x, 1)}, y ${plain(y, 1)} mm`;
      const rows = [
        ["Place", places],
        ["Speed", `${power(speed, "m/s", 3, onPage)} (${share.toFixed(1)} % of light’s)`],
      ];
      if (this.has("electric")) rows.push(["Potential here", `${plain(-potential, 0)} V`]);
      if (this.has("magnetic")) rows.push(["Work of the magnetic force", "0 eV, always"]);
      if (this.has("electric")) {
        const worked = this.motion.read("worked", this.at, 1)[0];
        rows.push(["Work of the electric force", `${plain(worked, Math.abs(worked) < 9.95 ? 1 : 0)} eV so far`]);
      }
      return rows;
    },
  },
  mounted() {
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(this.$el);
    document.fonts?.ready.then(() => this.draw());
  },
  beforeUnmount() {
    this.watcher.disconnect();
    cancelAnimationFrame(this.playing);
    clearTimeout(this.calm);
  },
  updated() { this.draw(); },
  methods: {
    // A message without points empties the stage.
    show(message) {
      this.stop();
      const part = this.motion ? this.now.time / this.motion.duration : null;
      // Frozen, so that no watcher stands between the drawing and the arrays.
      this.message = message && Object.freeze(message);
      this.motion = message && Object.freeze(new Motion(message));
      if (message) this.at = part === null ? message.begin_at : this.motion.where("time", part * this.motion.duration);
      this.$nextTick(() => this.draw());
    },
    has(name) { return this.message.acts.includes(name); },
    isAt(at) { return Math.abs(this.at - at) < 0.02; },
    goTo(at) {
      this.stop();
      this.at = at;
    },
    chooseFrame(key) {
      this.frame = key;
      this.$emit("frame", key);
    },
    slide(event) {
      this.stop();
      this.at = this.motion.where("time", (this.motion.duration * Number(event.target.value)) / STEPS);
    },
    key(event) {
      const step = { ArrowLeft: -1, ArrowRight: 1, ArrowDown: -1, ArrowUp: 1, PageDown: -10, PageUp: 10 }[event.key];
      if (event.key === " ") this.play();
      else if (event.key === "Home") this.goTo(0);
      else if (event.key === "End") this.goTo(this.motion.count - 1);
      else if (step) {
        const part = (event.shiftKey ? 5 : 1) * step * (this.motion.duration / 200);
        this.goTo(this.motion.where("time", this.now.time + part));
      } else return;
      event.preventDefault();
    },
    play() {
      if (this.isPlaying) return this.stop();
      this.isPlaying = true;
      const { duration } = this.motion;
      let time = this.now.time > 0.999 * duration ? 0 : this.now.time;
      if (matchMedia("(prefers-reduced-motion: reduce)").matches) {
        const step = () => {
          time = Math.min(duration, time + duration / CALM_STEPS);
          this.at = this.motion.where("time", time);
          if (time < duration) this.calm = setTimeout(step, PLAYS_FOR / CALM_STEPS);
          else this.isPlaying = false;
        };
        return step();
      }
      let before = performance.now();
      const run = (moment) => {
        time = Math.min(duration, time + (duration * (moment - before)) / PLAYS_FOR);
        before = moment;
        this.at = this.motion.where("time", time);
        if (time < duration) this.playing = requestAnimationFrame(run);
        else this.isPlaying = false;
      };
      this.playing = requestAnimationFrame(run);
    },
    stop() {
      this.isPlaying = false;
      cancelAnimationFrame(this.playing);
      clearTimeout(this.calm);
    },
    grab(event, view) {
      this.dragged = event.pointerType === "mouse";
      this.stop();
      this.take(event, view);
    },
    drag(event, view) { if (this.dragged) this.take(event, view); },
    // The point of the path nearest to the pointer; far from the path nothing is meant.
    take(event, view) {
      const place = this.places[view.key];
      if (!place) return;
      const box = event.target.getBoundingClientRect();
      const [x, y] = [event.clientX - box.left, event.clientY - box.top];
      let [nearest, least] = [null, 60];
      for (let n = 0; n < this.motion.count; n++) {
        const [a, b] = place.point(this.motion.read(view.path, n));
        const far = Math.hypot(a - x, b - y);
        if (far < least) [nearest, least] = [n, far];
      }
      if (nearest !== null) this.at = nearest;
    },
    grabChart(event) {
      this.dragged = event.pointerType === "mouse";
      this.stop();
      this.takeChart(event);
    },
    dragChart(event) { if (this.dragged) this.takeChart(event); },
    takeChart(event) {
      const box = event.target.getBoundingClientRect();
      const share = (event.clientX - box.left) / box.width;
      this.at = this.motion.where("time", this.motion.duration * Math.min(Math.max(share, 0), 1));
    },
    colours() {
      const style = getComputedStyle(this.$el);
      const read = (name) => style.getPropertyValue(name).trim();
      return {
        ground: read("--ground"), text: read("--text"), quiet: read("--text-quiet"), grid: read("--grid"),
        glow: this.message.glow, metal: "#b5a88f", glass: read("--outline"), sheet: read("--grid-axis"),
        face: style.fontFamily,
      };
    },
    draw() {
      if (!this.motion) return;
      const colours = this.colours();
      this.places = {};
      const views = this.views.map((view) => [view, [this.$refs[`view-${view.key}`]].flat()[0]]);
      if (views.some(([, canvas]) => !canvas)) return;
      const heights = this.heightsOf(views);
      for (const [n, [view, canvas]] of views.entries()) {
        const height = heights[n];
        const [context, width] = fitted(canvas, height);
        const place = layout(view, width, height);
        this.places[view.key] = place;
        const now = view.path === "position" ? this.now : this.motion.seen(this.at);
        drawView(context, place, this.motion, now, colours);
      }
      const charts = this.$refs.charts;
      const [context, width] = fitted(charts, charts.clientHeight);
      drawCharts(context, width, charts.clientHeight, this.motion, this.now, colours);
      // For tests: what stands on the page.
      this.$el.glowtrace = { at: this.at, views: this.views.map((view) => view.key), now: this.now, count: this.motion.count };
    },
    // Views beside each other share one height: that which the widest part of them asks for.
    heightsOf(views) {
      const most = window.innerHeight - AROUND;
      const asked = views.map(([view, canvas]) => {
        const [u0, u1, v0, v1] = view.window;
        return ((canvas.clientWidth - 56) * (v1 - v0) * view.stretch) / (u1 - u0) + 56;
      });
      const tops = new Set(views.map(([, canvas]) => canvas.offsetTop));
      const isStacked = tops.size > 1 || views.length === 1;
      return asked.map((height) =>
        Math.round(Math.min(Math.max(isStacked ? height : Math.max(...asked), LEAST_HEIGHT), Math.max(most, MOST_LEAST))));
    },
  },
};

function fitted(canvas, height) {
  const ratio = window.devicePixelRatio || 1;
  const width = canvas.clientWidth;
  const [w, h] = [Math.round(width * ratio), Math.round(height * ratio)];
  if (canvas.style.height !== `${height}px`) canvas.style.height = `${height}px`;
  if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
  const context = canvas.getContext("2d");
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  context.clearRect(0, 0, width, height);
  return [context, width];
}

// The way of a force as the audience sees it.
function wayOf([x, y, z]) {
  const long = Math.hypot(x, y, z);
  const parts = [];
  if (Math.abs(y) > 0.26 * long) parts.push(y > 0 ? "up" : "down");
  if (Math.abs(x) > 0.26 * long) parts.push(x > 0 ? "right" : "left");
  if (Math.abs(z) > 0.26 * long) parts.push(z > 0 ? "to you" : "away");
  return parts.join(" ");
}
