// One electron's motion as the server computed it, read at any instant.
//
// Lengths are mm, times ns, velocities 10^6 m/s, forces 10^-15 N, energies eV.

import { size, sum } from "./numbers.js";

function decode(text) {
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  return new Float32Array(bytes.buffer);
}

// The arrays of a message, read at any instant.
export class Motion {
  constructor(message) {
    this.message = message;
    this.arrays = Object.fromEntries(
      Object.entries(message.arrays).map(([name, text]) => [name, decode(text)]),
    );
    this.count = message.count;
    const { time, way } = this.arrays;
    this.duration = time[this.count - 1];
    this.length = way[this.count - 1];
    const all = Array.from({ length: this.count }, (_, n) => this.at(n));
    const sizes = (name) => all.map((now) => size(now[name]));
    this.rows = {
      electric: sizes("electric"), magnetic: sizes("magnetic"), force: sizes("force"),
      kinetic: all.map((now) => now.kinetic),
    };
    const { electric, magnetic, force } = this.rows;
    this.most = {
      force: Math.max(...electric, ...magnetic, ...force), velocity: Math.max(...sizes("velocity")),
    };
  }

  // A value (of `wide` numbers a point) at a place among the points, by straight lines between.
  read(name, at, wide = 3) {
    const values = this.arrays[name];
    const before = Math.min(Math.max(Math.floor(at), 0), this.count - 2);
    const part = Math.min(Math.max(at - before, 0), 1);
    return Array.from({ length: wide }, (_, n) => {
      const a = values[before * wide + n];
      return a + part * (values[(before + 1) * wide + n] - a);
    });
  }

  at(at) {
    const electric = this.read("electric", at);
    const magnetic = this.read("magnetic", at);
    const one = (name) => this.read(name, at, 1)[0];
    return {
      at, time: one("time"), way: one("way"), kinetic: one("kinetic"), potential: one("potential"),
      position: this.read("position", at), velocity: this.read("velocity", at),
      electric, magnetic, force: sum(electric, magnetic),
    };
  }

  seen(at) {
    const electric = this.read("seen_electric", at);
    const magnetic = this.read("seen_magnetic", at);
    return {
      at, position: this.read("seen_position", at), velocity: this.read("seen_velocity", at),
      electric, magnetic, force: sum(electric, magnetic),
    };
  }

  // The place among the points at a time in ns, or at a way in mm.
  where(name, value) {
    const values = this.arrays[name];
    let [low, high] = [0, this.count - 1];
    if (value <= values[0]) return 0;
    if (value >= values[high]) return high;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (values[middle] <= value) low = middle;
      else high = middle;
    }
    return low + (value - values[low]) / (values[high] - values[low] || 1);
  }
}
