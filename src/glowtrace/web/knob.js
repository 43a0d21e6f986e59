// A knob of the bench: its value as a large number that can be typed over, and a slider.
//
// Arrow keys turn it finely, Shift + arrow or Page Up / Page Down coarsely, Home and End go to the
// stops. It never leaves its range: at a stop it says which rating is the reason. A number beyond
// the range that is typed leaves it where it was.

export default {
  template: `
    <div class="knob" role="group" :aria-label="label">
      <label class="knob-label" :for="numberId">{{ label }}</label>
      <div class="knob-value">
        <input class="knob-number" ref="number" :id="numberId" type="text" inputmode="decimal"
          autocomplete="off" spellcheck="false" :aria-describedby="stopId" :style="{ width: room }"
          :data-typing="typing !== null"
          :value="typing ?? shown" @input="typing = $event.target.value" @focus="focused" @click="clicked"
          @blur="enter" @keydown.enter.prevent="enter" @keydown.esc="typing = null" @keydown="onKey">
        <span class="knob-unit">{{ unit }}</span>
      </div>
      <div class="knob-travel" :style="{ '--turned': turned, '--tick': tick }">
        <input class="slider" type="range" :min="low" :max="high" step="any" :value="now"
          :aria-label="label" :aria-valuetext="shown + ' ' + unit" :aria-describedby="stopId"
          @input="slide" @keydown="onKey">
      </div>
      <div class="ends" aria-hidden="true"><span>{{ format(low) }}</span><span>{{ format(high) }}</span></div>
      <p class="knob-stop" role="status" :id="stopId">{{ reason }}</p>
      <slot></slot>
    </div>`,

  props: {
    label: String,
    unit: String,
    value: Number, // at first; later the server calls `put`
    low: Number,
    high: Number,
    fine: Number,
    coarse: Number,
    digits: Number,
    stop: Number, // the highest value now; at most `high`
    why: String, // which rating the stop is
  },

  data() {
    return { now: this.value, typing: null, complaint: "" };
  },

  created() {
    this.waiting = false;
    this.isEntered = false; // by the press that goes on to be a click
  },

  computed: {
    numberId() {
      return `knob-${this.$.uid}`;
    },
    stopId() {
      return `knob-${this.$.uid}-stop`;
    },
    shown() {
      return this.format(this.now);
    },
    room() {
      // Figures are equally wide; the point takes less.
      const width = (text) => [...text].reduce((sum, c) => sum + (/[.,]/.test(c) ? 0.45 : 1), 0.1);
      return `${width(this.typing ?? this.shown)}ch`;
    },
    turned() {
      return this.high > this.low ? (this.now - this.low) / (this.high - this.low) : 0;
    },
    tick() {
      const parts = (this.high - this.low) / this.coarse;
      return `${100 / (parts > 40 ? parts / 5 : parts)}%`;
    },
    reason() {
      if (this.complaint) return this.complaint;
      if (this.stop > this.low && this.now >= this.stop) return `Stop: ${this.why}`;
      return "";
    },
  },

  methods: {
    format(value) {
      return value.toFixed(this.digits).replace("-", "−");
    },

    held(value) {
      return Math.min(this.stop, Math.max(this.low, value));
    },

    toStep(value) {
      const steps = Math.round(value / this.fine);
      return this.held(Number((steps * this.fine).toPrecision(9)));
    },

    // Holds the thumb back at a stop that lies before the slider's end.
    slide(event) {
      this.turnTo(this.toStep(+event.target.value));
      if (event.target.value > this.stop) event.target.value = this.now;
    },

    // The server hears of at most one turn a frame, always the newest.
    turnTo(value) {
      this.complaint = "";
      this.typing = null;
      if (value === this.now) return;
      this.now = value;
      this.turnedAt = performance.now();
      if (this.waiting) return;
      this.waiting = true;
      requestAnimationFrame(() => {
        this.waiting = false;
        this.$emit("turn", { value: this.now, stamp: this.turnedAt });
      });
    },

    // Called by the server where it is not the visitor who turned the knob.
    put(value) {
      this.now = value;
      this.typing = null;
      this.complaint = "";
    },

    // All of it is taken, so that typing replaces it; some browsers let go of it as a press ends.
    focused(event) {
      this.isEntered = true;
      event.target.select();
    },

    clicked(event) {
      if (this.isEntered) requestAnimationFrame(() => event.target.select());
      this.isEntered = false;
    },

    enter() {
      if (this.typing === null) return;
      const text = this.typing.trim().replace("−", "-").replace(",", ".");
      const value = Number(text);
      this.typing = null;
      if (text === "" || Number.isNaN(value)) {
        this.complaint = `“${text}” is not a number; give ${this.format(this.low)} to ${this.format(this.stop)} ${this.unit}`;
        return;
      }
      const low = `at least ${this.format(this.low)} ${this.unit}`;
      if (value > this.stop) this.complaint = `${text} ${this.unit} is too much: ${this.why}`;
      else if (value < this.low) this.complaint = `${text} ${this.unit} is too little: ${low}`;
      else this.turnTo(value);
      const number = this.$refs.number; // select() would draw the focus back from the next control
      if (document.activeElement === number) this.$nextTick(() => number.select());
    },

    onKey(event) {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const isNumber = event.target === this.$refs.number;
      const sideways = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (isNumber && (sideways || ["Home", "End"].includes(event.key))) return; // moves the caret
      const turns = sideways ?? { ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
      const ends = { Home: this.low, End: this.stop };
      if (turns === undefined && !(event.key in ends)) return;
      event.preventDefault();
      if (event.key in ends) return void this.turnTo(ends[event.key]);
      const isCoarse = event.shiftKey || Math.abs(turns) === 10;
      const step = (isCoarse ? this.coarse : this.fine) * Math.sign(turns);
      if (this.typing !== null) this.enter();
      const next = this.now + step;
      this.turnTo(next === this.held(next) ? this.toStep(next) : this.held(next));
    },
  },
};
