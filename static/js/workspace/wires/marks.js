// Draws the points of the wires, and the wires themselves while one of their points is held.

import { linesOf } from "./lines.js";
import { pointsOf, wiresOf } from "./route.js";

export function wireMarks({ stage, parts }, layout, chosen, isHeld) {
  const width = stage.shown.width / 500;
  const lines = isHeld ? wiresOf(layout, parts).flatMap(linesOf) : [];
  return [
    ...lines.map((line) => lineMark(stage, line, width)),
    ...pointsOf(layout, parts).map((one) => pointMark(stage, one, one.id === chosen, width)),
  ];
}

function lineMark(stage, [[x1, y1], [x2, y2]], width) {
  const ends = { x1, x2, y1: stage.roofWidth - y1, y2: stage.roofWidth - y2 };
  return stage.node("line", { ...ends, class: "ws-wire", "stroke-width": 2 * width });
}

function pointMark(stage, { at }, isChosen, width) {
  return stage.node("circle", {
    cx: at[0],
    cy: stage.roofWidth - at[1],
    r: (isChosen ? 8 : 6) * width,
    class: `ws-point${isChosen ? " ws-point-chosen" : ""}`,
    "stroke-width": 1.5 * width,
  });
}
