// Dragging the chosen panels by one of them, pulled to edges, rafters and neighbors.

import { by } from "../dom.js";
import * as edits from "../edits.js";
import { boxOf, settle } from "../geometry.js";

// Returns a hold on a panel; a tap chooses it, or takes it out of the choice.
export function holdPanel(tool, panel, at, { isSeveral, wasChosen }) {
  const letGo = () => tool.shift(null, null);
  return {
    move: (event, to) => dragTo(tool, panel, { x: to.x - at.x, y: to.y - at.y }, event.altKey),
    drop: () => {
      const step = tool.shifted?.get(panel.number);
      letGo();
      if (step) tool.desk.store.change((layout) => edits.move(layout, tool.chosen, step.x, step.y));
      tool.say();
    },
    tap: () => {
      if (wasChosen && isSeveral) tool.chosen = tool.chosen.filter((one) => one !== panel.number);
      else if (wasChosen) tool.chosen = [panel.number];
      tool.choosing();
      tool.say();
    },
    cancel: letGo,
  };
}

function dragTo(tool, panel, moved, isFree) {
  const { store, live } = tool.desk;
  const { step, guides } = restOf(tool, panel, moved, isFree);
  tool.shift(new Map(tool.chosen.map((number) => [number, step])), guides);
  const tried = structuredClone(store.layout);
  edits.move(tried, tool.chosen, step.x, step.y);
  live.ask(tried);
}

// Returns how far the panels move when let go now, and the lines that pulled them.
function restOf({ desk, chosen }, panel, { x, y }, isFree) {
  const { store, start, parts } = desk;
  const box = boxOf(panel, parts);
  const moved = { ...box, x0: box.x0 + x, x1: box.x1 + x, y0: box.y0 + y, y1: box.y1 + y };
  if (isFree) {
    return { step: { x: Math.round(moved.x0) - box.x0, y: Math.round(moved.y0) - box.y0 }, guides: null };
  }
  const others = store.layout.panels
    .filter((one) => !chosen.includes(one.number))
    .map((one) => boxOf(one, parts));
  const rest = settle(moved, others, start, by("ws-pull").checked);
  return { step: { x: rest.x - box.x0, y: rest.y - box.y0 }, guides: rest.guides };
}
