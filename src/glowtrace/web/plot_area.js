// A drawing with axes: tells where the visitor points and what is chosen, as shares of its sides.

export default {
  template: `
    <div class="plot" tabindex="0" role="application" :aria-label="label"
         @pointermove="point" @click="choose" @keydown="key" @focus="tell">
      <slot></slot>
      <span class="plot-cursor" :style="{ left: 100 * x + '%', bottom: 100 * y + '%' }"></span>
    </div>`,
  props: { label: String, startX: Number, startY: Number },
  emits: ["point", "choose"],
  data() {
    return { x: this.startX ?? 0.5, y: this.startY ?? 0.5, toldAt: 0, pending: null };
  },
  watch: {
    startX(value) { this.x = value; },
    startY(value) { this.y = value; },
  },
  methods: {
    place(event) {
      const box = this.$el.getBoundingClientRect();
      const clamp = (share) => Math.min(1, Math.max(0, share));
      this.x = clamp((event.clientX - box.left) / box.width);
      this.y = clamp(1 - (event.clientY - box.top) / box.height);
    },
    point(event) {
      if (event.pointerType !== "mouse") return;
      this.place(event);
      this.tell();
    },
    tell() {
      // At most ten times a second, and always the last place.
      clearTimeout(this.pending);
      const wait = Math.max(0, 100 - (performance.now() - this.toldAt));
      this.pending = setTimeout(() => {
        this.toldAt = performance.now();
        this.$emit("point", [this.x, this.y]);
      }, wait);
    },
    choose(event) {
      this.place(event);
      // A finger has not seen yet what it points at: it chooses by the button below the map.
      if (event.pointerType === "mouse") this.$emit("choose", [this.x, this.y]);
      else this.tell();
    },
    key(event) {
      const step = event.shiftKey ? 0.05 : 0.01;
      const moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
      if (event.key === "Enter") this.$emit("choose", [this.x, this.y]);
      const move = moves[event.key];
      if (!move) return;
      event.preventDefault();
      this.x = Math.min(1, Math.max(0, this.x + step * move[0]));
      this.y = Math.min(1, Math.max(0, this.y + step * move[1]));
      this.tell();
    },
  },
};
