// Where the values stand and how large the letters are: what the last row needs, but never so large
// that the picture loses its part of the window.

const PICTURE_PART = 0.62; // of the window's area, at least
const LEAST_LETTER = 12; // CSS pixels
const SHRINK = 0.97;
const LINE = 1.2; // letters
const LONGEST_VALUE = "0.00 mA"; // numbers that change must not move what stands beside them

const context = document.createElement("canvas").getContext("2d");

// Widths of the rows and height of a figure, in letters.
function measure(rows, face) {
  context.font = `500 100px ${face}`;
  const width = (text) => context.measureText(text).width / 100;
  const value = (text) => Math.max(width(text), width(LONGEST_VALUE));
  return {
    inLine: rows.map(({ name, value: text, note }) => width(`${name}   ${note}`) + value(text)),
    stacked: Math.max(0, ...rows.flatMap((row) => [width(row.name), value(row.value), width(row.note)])),
    lines: rows.reduce((sum, row) => sum + (row.note ? 3 : 2), 0),
    figure: context.measureText("0").actualBoundingBoxAscent / 100,
  };
}

// Lines that rows of these widths fill, a letter apart; Infinity where one is too wide.
function linesOf(widths, room) {
  let [lines, used] = [1, 0];
  for (const width of widths) {
    if (width > room) return Infinity;
    if (used > 0 && used + 1 + width > room) [lines, used] = [lines + 1, 0];
    used += (used > 0 ? 1 : 0) + width;
  }
  return lines;
}

// The picture's box with the values under it or beside it, and whether all fits.
function place(letter, isBeside, { width, height, sizes }) {
  if (isBeside) {
    const box = [width - (sizes.stacked + 0.8) * letter, height];
    const needed = sizes.lines * LINE + 0.6 * Math.max(0, sizes.inLine.length - 1);
    return { box, fits: needed * letter <= height };
  }
  const lines = linesOf(sizes.inLine, width / letter - 0.8);
  const box = [width, height - (lines * LINE + 0.35) * letter];
  return { box, fits: Number.isFinite(lines) };
}

// Scale (px per mm) that a view gets in a box; the margins of the scale's letters are the drawing's.
function scaleIn([wide, high], letter, [u0, u1, v0, v1]) {
  return Math.min((wide - 2.65 * letter) / (u1 - u0), (high - 1.7 * letter) / (v1 - v0));
}

// `wanted`: height of a figure as a share of the screen's width. Gives letter and figure in CSS
// pixels, and whether the values stand beside the picture.
export function arrange({ width, height, screenWidth, wanted, rows, view, face }) {
  const sizes = measure(rows, face);
  const enough = PICTURE_PART * width * height;
  let letter = Math.max(LEAST_LETTER, (wanted * screenWidth) / sizes.figure);
  for (;;) {
    const ways = [false, true]
      .map((isBeside) => ({ isBeside, ...place(letter, isBeside, { width, height, sizes }) }))
      .filter(({ box: [wide, high], fits }) => fits && wide * high >= enough)
      .sort((one, other) => scaleIn(other.box, letter, view) - scaleIn(one.box, letter, view));
    if (ways.length || letter <= LEAST_LETTER) {
      const isBeside = ways[0]?.isBeside ?? false;
      return { letter, figure: letter * sizes.figure, isBeside };
    }
    letter = Math.max(LEAST_LETTER, letter * SHRINK);
  }
}
