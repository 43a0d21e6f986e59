// Lines over the picture: what learners predicted, what was computed, what was seen. They differ in
// stroke as well as in colour.

const SPOT = 0.3; // letters: radius of a single place
const STROKES = {
  prediction: { width: 1.6, alpha: 0.5, dash: [] },
  computed: { width: 4, alpha: 1, dash: [] },
  seen: { width: 3.2, alpha: 1, dash: [9, 6] },
};
const WIDEST = 4; // times a single answer's line

export function drawMarks(drawing, marks, place) {
  const { context } = drawing;
  for (const { role, places, count } of marks) {
    const { width, alpha, dash } = STROKES[role];
    const many = role === "prediction" ? Math.min(WIDEST, Math.sqrt(count)) : 1;
    context.beginPath();
    if (places.length === 1) addSpot(context, places[0], place, many);
    else addLine(context, places, place);
    context.lineJoin = "round";
    context.lineCap = "round";
    context.setLineDash(dash.map((length) => length * place.stroke));
    if (role !== "prediction") {
      // On a bed of the ground, so that it stands out from glow and predictions.
      context.strokeStyle = drawing.colour("bed");
      context.lineWidth = (width + 4) * place.stroke;
      context.stroke();
    }
    context.globalAlpha = alpha;
    context.strokeStyle = drawing.colour(role);
    context.lineWidth = width * many * place.stroke;
    context.stroke();
    context.globalAlpha = 1;
  }
  context.setLineDash([]);
  context.lineCap = "butt";
  context.lineJoin = "miter";
}

// A null lifts the pen.
function addLine(context, places, place) {
  let isUp = true;
  for (const at of places) {
    if (at && isUp) context.moveTo(place.x(at[0]), place.y(at[1]));
    else if (at) context.lineTo(place.x(at[0]), place.y(at[1]));
    isUp = !at;
  }
}

function addSpot(context, at, place, many) {
  if (!at) return;
  const [u, v] = at;
  const radius = SPOT * place.margin.letter * Math.sqrt(many);
  context.moveTo(place.x(u) + radius, place.y(v));
  context.arc(place.x(u), place.y(v), radius, 0, 2 * Math.PI);
}
