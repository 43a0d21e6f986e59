// How large the letters are and where the words stand: what the last row needs, but never so large
// that the picture loses its part of the window.

const PICTURE_PART = 0.62; // of the window's area, at least
const LEAST_LETTER = 15; // CSS pixels
const SHRINK = 0.95;

const context = document.createElement("canvas").getContext("2d");

// Height of a figure in letters.
function figureOf(face) {
  context.font = `500 100px ${face}`;
  return context.measureText("0").actualBoundingBoxAscent / 100;
}

function put(stage, drawing, letter, isBeside) {
  stage.classList.toggle("is-beside", isBeside);
  stage.style.setProperty("--letter", `${letter}px`);
  drawing.letter = letter;
}

function fits(stage, canvas) {
  const { width, height } = canvas.getBoundingClientRect();
  const isLarge = width * height >= PICTURE_PART * window.innerWidth * window.innerHeight;
  const overflows = [stage, ...stage.querySelectorAll("[data-fits]")].some(
    (box) => box.scrollWidth > box.clientWidth + 1 || box.scrollHeight > box.clientHeight + 1,
  );
  return isLarge && !overflows;
}

// Puts letters and words in their places; `wanted`: height of a figure as a share of the screen's
// width. Gives the share that a figure has.
export function arrange(stage, drawing, wanted) {
  const figure = figureOf(drawing.colour("face"));
  let letter = Math.max(LEAST_LETTER, (wanted * window.screen.width) / figure);
  for (;;) {
    const ways = [];
    for (const isBeside of [false, true]) {
      put(stage, drawing, letter, isBeside);
      if (fits(stage, drawing.canvas)) ways.push({ isBeside, fit: drawing.layout().fit });
    }
    if (ways.length || letter <= LEAST_LETTER) {
      ways.sort((one, other) => other.fit - one.fit);
      put(stage, drawing, letter, ways[0]?.isBeside ?? false);
      return (letter * figure) / window.screen.width;
    }
    letter = Math.max(LEAST_LETTER, letter * SHRINK);
  }
}
