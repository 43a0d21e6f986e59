// A table of readings to be written in: cells that say what is wrong with them, under them.
//
// Enter and the arrows up and down go along a column, Tab along a row; Enter in the last row adds
// one. What is copied from a spreadsheet goes in from the cell on where it is pasted.

export default {
  template: `
    <table class="table cells">
      <thead>
        <tr>
          <th class="cells-number"><span class="visually-hidden">Row</span></th>
          <th v-for="column in columns" scope="col">
            <span v-html="column.symbol"></span> <span class="cells-unit">{{ column.unit }}</span>
          </th>
        </tr>
      </thead>
      <tbody>
        <tr v-for="(row, r) in rows" :class="{ 'is-outlier': outliers.includes(r) }">
          <th class="cells-number" scope="row">
            <button type="button" :aria-label="'Remove row ' + (r + 1)" title="Remove this row"
              tabindex="-1" @click="remove(r)">{{ r + 1 }}</button>
          </th>
          <td v-for="(column, c) in columns">
            <input :ref="'cell-' + r + '-' + c" type="text" inputmode="text" autocomplete="off" spellcheck="false"
              :value="row[c]" :placeholder="column.placeholder" :aria-label="column.name + ', row ' + (r + 1)"
              :aria-invalid="Boolean(fault(r, c))" :aria-describedby="'about-' + $.uid + '-' + r + '-' + c"
              @input="rows[r][c] = $event.target.value" @change="tell" @keydown="onKey($event, r, c)"
              @paste="onPaste($event, r, c)" @focus="$event.target.select()">
            <p :id="'about-' + $.uid + '-' + r + '-' + c" :class="fault(r, c) ? 'cells-fault' : 'cells-size'">{{
              fault(r, c) || size(r, c) }}</p>
          </td>
        </tr>
      </tbody>
    </table>`,

  props: { columns: Array },

  data() {
    return { rows: [], marks: [], outliers: [] };
  },

  methods: {
    put(rows, marks) {
      this.rows = rows;
      this.marks = marks;
      this.outliers = [];
    },

    mark(marks) {
      this.marks = marks;
    },

    point(outliers) {
      this.outliers = outliers;
    },

    fault(r, c) {
      return this.marks[r]?.[c]?.[0] ?? "";
    },

    size(r, c) {
      return this.marks[r]?.[c]?.[1] ?? "";
    },

    tell() {
      this.$emit("written", this.rows);
    },

    add() {
      this.rows.push(this.columns.map(() => ""));
      this.tell();
    },

    remove(r) {
      this.rows.splice(r, 1);
      this.marks.splice(r, 1);
      if (!this.rows.length) this.rows.push(this.columns.map(() => ""));
      this.tell();
    },

    onKey(event, r, c) {
      const down = { Enter: event.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
      if (!down) return;
      event.preventDefault();
      if (r + down < 0) return;
      if (event.key === "Enter" && r + down === this.rows.length) this.add();
      else this.tell();
      this.$nextTick(() => this.$refs[`cell-${r + down}-${c}`]?.[0]?.focus());
    },

    onPaste(event, r, c) {
      const text = event.clipboardData.getData("text/plain");
      if (!/[\t\n;]|,.*,/.test(text.trim())) return; // one value goes into its cell as it is
      event.preventDefault();
      this.$emit("pasted", text, r, c);
    },
  },
};
