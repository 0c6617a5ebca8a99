// Draws what every cell loses: marks on the panels, the poorest cell ringed, the marks of the legend.

// From how many tenths of a percent on, size of the mark as a share of the cell, words.
export const CLASSES = [
  { from: 0, size: 0, words: "under 0.5%" },
  { from: 5, size: 0.24, words: "0.5 to 2%" },
  { from: 20, size: 0.42, words: "2 to 5%" },
  { from: 50, size: 0.6, words: "5 to 10%" },
  { from: 100, size: 0.78, words: "10 to 20%" },
  { from: 200, size: 0.94, words: "20% and more" },
];
const classOf = (lost) => CLASSES.findLastIndex((one) => lost >= one.from);

// Returns how many cells of these panels are in each class.
export function countClasses(panels) {
  const counts = CLASSES.map(() => 0);
  for (const panel of panels) for (const lost of panel.lost) counts[classOf(lost)] += 1;
  return counts;
}

export function drawCells(stage, panel, box, poorest) {
  const group = stage.node("g", {});
  const grid = gridOf(panel, box);
  const worst = poorest?.panel === panel.number ? (poorest.row - 1) * panel.columns + poorest.column - 1 : -1;
  for (const [spot, lost] of panel.lost.entries()) {
    const at = middleOf(stage, panel, box, grid, spot);
    const kind = classOf(lost);
    const side = CLASSES[kind].size * grid.least;
    if (side) group.append(square(stage, at.x, at.y, side, kind));
    if (spot === worst) group.append(ring(stage, at, grid.least));
  }
  group.append(numberOn(stage, panel.number, box));
  return group;
}

// Returns the size of a cell on the roof [mm].
function gridOf(panel, box) {
  const rows = panel.lost.length / panel.columns;
  const long = (box.length - 2 * panel.margin_mm) / panel.columns;
  const wide = (box.width - 2 * panel.margin_mm) / rows;
  return { long, wide, least: Math.min(long, wide) };
}

function middleOf(stage, panel, box, { long, wide }, spot) {
  return {
    x: box.x0 + panel.margin_mm + ((spot % panel.columns) + 0.5) * long,
    y: stage.roofWidth - (box.y0 + panel.margin_mm + (Math.floor(spot / panel.columns) + 0.5) * wide),
  };
}

function square(stage, x, y, side, kind) {
  const corner = { x: x - side / 2, y: y - side / 2 };
  return stage.node("rect", { ...corner, width: side, height: side, class: `ws-heat-${kind}` });
}

function ring(stage, { x, y }, least) {
  const size = { r: 0.72 * least, "stroke-width": least / 12 };
  return stage.node("circle", { cx: x, cy: y, ...size, class: "ws-heat-poorest" });
}

function numberOn(stage, number, box) {
  const size = stage.textSize * 1.3;
  const word = stage.node("text", {
    x: (box.x0 + box.x1) / 2,
    y: stage.roofWidth - (box.y0 + box.y1) / 2,
    class: "ws-heat-number",
    "font-size": size,
    "stroke-width": size / 4,
    "text-anchor": "middle",
    dy: "0.35em",
  });
  word.textContent = number;
  return word;
}

export function legendMark(stage, kind) {
  const svg = stage.node("svg", { class: "ws-heat-key", viewBox: "0 0 20 20", "aria-hidden": "true" });
  const side = 20 * CLASSES[kind].size;
  svg.append(stage.node("rect", { x: 0.5, y: 0.5, width: 19, height: 19, class: "ws-heat-cell" }));
  if (side) svg.append(square(stage, 10, 10, side, kind));
  return svg;
}
