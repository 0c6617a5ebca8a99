// Taking a point or a wire by the pointer: an existing point moves, a wire bends where it is taken.

import { by } from "../dom.js";
import { settle } from "../geometry.js";
import { onGrid } from "../lengths.js";
import { distanceTo, linesOf, stretchAt } from "./lines.js";
import { addBend, placePoint, pointsOf, wiresOf } from "./route.js";

const NEAR = 16; // px: so near a point or a line is meant

// Returns what the pointer takes hold of, null where there is nothing.
export function takeHold(tool, at) {
  const { desk } = tool;
  const { layout } = desk.store;
  const near = NEAR / desk.stage.svg.getScreenCTM().a;
  const found = nearestPoint(pointsOf(layout, desk.parts), at, near);
  if (found && !tool.isDrawing) {
    return drag(tool, found.id, (tried, x, y) => {
      placePoint(tried, found.id, x, y, desk.parts);
      return found.id;
    });
  }
  if (tool.isDrawing) return { tap: () => tool.drawAt(at), move: () => {}, drop: () => {}, cancel: () => {} };
  const wire = wiresOf(layout, desk.parts).find((one) =>
    linesOf(one).some(([from, to]) => distanceTo([at.x, at.y], from, to) <= near),
  );
  if (!wire) return null;
  const there = stretchAt(wire, at.x, at.y);
  return drag(tool, null, (tried, x, y) => addBend(tried, wire.id, { x, y }, desk.parts, there));
}

function nearestPoint(points, { x, y }, near) {
  const [found] = points
    .map((one) => ({ ...one, far: Math.hypot(one.at[0] - x, one.at[1] - y) }))
    .filter((one) => one.far <= near)
    .sort((one, other) => one.far - other.far);
  return found;
}

// Returns a hold that puts a point where the pointer is; ``put`` returns the id of what it put.
function drag(tool, id, put) {
  if (id && !tool.mayMove(id)) return null;
  const { desk } = tool;
  let held = id;
  return {
    move: (event, to) => {
      const { x, y } = pulled(desk, to, held, event.altKey);
      tool.tried = structuredClone(desk.store.layout);
      held = put(tool.tried, x, y) ?? held;
      tool.chosen = held;
      desk.marks();
      desk.live.ask(tool.tried);
    },
    drop: () => {
      const made = tool.tried;
      tool.tried = null;
      if (made) desk.store.change((layout) => Object.assign(layout, made));
      tool.choose(held);
    },
    tap: () => tool.choose(id),
    cancel: () => {
      tool.tried = null;
      desk.marks();
    },
  };
}

// Pulls a point to edges of the roof and panels, to rafters, and square to the points beside it.
export function pulled({ store, start, parts }, { x, y }, id, isFree) {
  const { units } = start;
  if (isFree || !by("ws-pull").checked) return { x: onGrid(x, units), y: onGrid(y, units) };
  const dot = ([px, py]) => ({ x0: px, y0: py, x1: px, y1: py, length: 0, width: 0 });
  const others = pointsOf(store.layout, parts)
    .filter((one) => one.id !== id)
    .map((one) => dot(one.at));
  for (const wire of wiresOf(store.layout, parts)) others.push(...wire.ends.map(dot));
  return settle(dot([x, y]), others, { ...start, obstacles: [] }, true);
}
