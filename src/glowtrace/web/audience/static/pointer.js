// The place that the desk points at: a ring that stands out from glow and ground.

const RADIUS = 0.7; // letters

export function drawPointer(drawing, pointer) {
  if (!pointer) return;
  const place = drawing.layout();
  const { context } = drawing;
  const [x, y] = [place.x(pointer.u), place.y(pointer.v)];
  const radius = RADIUS * place.margin.letter;
  for (const [colour, width] of [["bed", 9], ["text", 4]]) {
    context.strokeStyle = drawing.colour(colour);
    context.lineWidth = width * place.stroke * 0.6;
    context.beginPath();
    context.arc(x, y, radius, 0, 2 * Math.PI);
    context.stroke();
  }
}
