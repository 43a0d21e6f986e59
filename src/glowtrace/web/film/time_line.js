// The time line of a film: small pictures, where the cut begins and ends, marks, and a pointer that
// is dragged or moved by the arrow keys, a frame at a time. Times are s.

const EVERY_MS = 80;

export default {
  template: `
    <div class="time-line">
      <div class="time-strip">
        <img v-if="strip" :src="strip" alt="">
        <span class="time-cut" :style="{ left: percent(0), width: percent(start) }"></span>
        <span class="time-cut" :style="{ left: percent(end), right: 0 }"></span>
        <span v-for="mark in marks" class="time-mark" :class="'is-' + mark.kind" :style="{ left: percent(mark.at) }" :title="mark.says"></span>
        <span class="time-now" :style="{ left: percent(at) }"></span>
        <input ref="slider" class="time-slider" type="range" min="0" :max="seconds" :step="step" :value="at"
          aria-label="Time in the film" :aria-valuetext="at.toFixed(2) + ' s'" @input="move">
      </div>
      <div class="ends"><span>{{ at.toFixed(2) }} s</span><span>cut {{ start.toFixed(2) }} s to {{ end.toFixed(2) }} s of {{ seconds.toFixed(2) }} s</span></div>
    </div>`,

  props: { seconds: Number, step: Number, strip: String, start: Number, end: Number, marks: Array, first: Number },

  data() {
    return { at: this.first };
  },

  mounted() {
    Object.assign(this, { toldAt: 0, telling: null });
  },

  methods: {
    percent(time) {
      return `${(100 * time) / this.seconds}%`;
    },

    put(at) {
      this.at = at;
    },

    move(event) {
      this.at = Number(event.target.value);
      clearTimeout(this.telling);
      const wait = this.toldAt + EVERY_MS - performance.now();
      this.telling = setTimeout(() => {
        this.toldAt = performance.now();
        this.$emit("at", this.at);
      }, Math.max(0, wait));
    },
  },
};
