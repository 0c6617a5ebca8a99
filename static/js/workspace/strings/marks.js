// Draws a string as it grows: a line, a number at each panel, a frame round the one the keys stand on.

export function growingMarks(stage, boxes, cursor) {
  const line = stage.shown.width / 500;
  const spots = boxes.map((box) => ({
    x: (box.x0 + box.x1) / 2,
    y: stage.roofWidth - (box.y0 + box.y1) / 2,
  }));
  return [
    ...(cursor ? [stage.frame(cursor, "chosen", line)] : []),
    ...(spots.length > 1 ? [lineMark(stage, spots, line)] : []),
    ...spots.flatMap((spot, place) => numberMark(stage, spot, place + 1, line)),
  ];
}

function lineMark(stage, spots, line) {
  const points = spots.map(({ x, y }) => `${x},${y}`).join(" ");
  return stage.node("polyline", { points, class: "ws-growing", "stroke-width": 2.4 * line });
}

function numberMark(stage, { x, y }, number, line) {
  const ring = { cx: x, cy: y, r: 9 * line, class: "ws-growing-spot", "stroke-width": line };
  const word = stage.node("text", {
    x,
    y,
    class: "ws-growing-word",
    "font-size": 11 * line,
    "text-anchor": "middle",
    dy: "0.35em",
  });
  word.textContent = number;
  return [stage.node("circle", ring), word];
}
