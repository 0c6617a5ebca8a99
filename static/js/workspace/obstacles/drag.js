// Dragging an obstacle, and drawing a new one as a box.

import { by } from "../dom.js";
import { boxOf, settle } from "../geometry.js";
import { onGrid } from "../lengths.js";
import { move, obstacleBox } from "./shape.js";

const NEAR = 12; // px around an obstacle that still mean it
const LEAST = 20; // mm: a drawn obstacle is at least so large

// Returns the smallest obstacle at a place.
export function obstacleAt({ store, stage }, { x, y }) {
  const slack = NEAR / stage.svg.getScreenCTM().a;
  return store.layout.obstacles
    .filter((one) => {
      const box = obstacleBox(one);
      return x >= box.x0 - slack && x <= box.x1 + slack && y >= box.y0 - slack && y <= box.y1 + slack;
    })
    .sort((one, other) => one.length_mm * one.width_mm - other.length_mm * other.width_mm)[0];
}

// Returns a hold that moves an obstacle with the pointer.
export function dragObstacle(tool, found, at) {
  const letGo = () => tool.shift(null, null);
  return {
    move: (event, to) => dragTo(tool, found, { x: to.x - at.x, y: to.y - at.y }, event.altKey),
    drop: () => {
      const step = tool.shifted?.get(found.key);
      letGo();
      if (step) tool.edit((one) => move(one, step.x, step.y, tool.limits));
      tool.choose(found.key);
    },
    tap: () => tool.choose(found.key),
    cancel: letGo,
  };
}

function dragTo(tool, found, moved, isFree) {
  const { store, live } = tool.desk;
  const { step, guides } = restOf(tool.desk, found, moved, isFree);
  tool.shift(new Map([[found.key, step]]), guides);
  const tried = structuredClone(store.layout);
  const held = tried.obstacles.find((one) => one.key === found.key);
  move(held, step.x, step.y, tool.limits);
  live.ask(tried);
}

// Returns how far the obstacle moves when let go now, and the lines that pulled it.
function restOf({ store, start, parts }, found, { x, y }, isFree) {
  const box = obstacleBox(found);
  const moved = { ...box, x0: Math.max(0, box.x0 + x), y0: Math.max(0, box.y0 + y) };
  if (isFree) {
    return { step: { x: Math.round(moved.x0) - box.x0, y: Math.round(moved.y0) - box.y0 }, guides: null };
  }
  const others = [
    ...store.layout.panels.map((one) => boxOf(one, parts)),
    ...store.layout.obstacles.filter((one) => one !== found).map(obstacleBox),
  ];
  const rest = settle(moved, others, { ...start, obstacles: [] }, by("ws-pull").checked);
  return { step: { x: rest.x - box.x0, y: rest.y - box.y0 }, guides: rest.guides };
}

// Returns a hold that draws the box of a new obstacle; ``done`` is given its place and size.
export function drawBox(tool, at, done) {
  const { units } = tool.desk.start;
  const corner = ({ x, y }) => ({ x: Math.max(0, onGrid(x, units)), y: Math.max(0, onGrid(y, units)) });
  const from = corner(at);
  return {
    move: (_event, to) => {
      const end = corner(to);
      const [x0, x1] = [from.x, end.x].sort((a, b) => a - b);
      const [y0, y1] = [from.y, end.y].sort((a, b) => a - b);
      tool.drawing = { x0, y0, x1, y1, length: x1 - x0, width: y1 - y0 };
      tool.desk.marks();
    },
    drop: () => {
      const box = tool.drawing;
      tool.arm(false);
      if (box.length < LEAST || box.width < LEAST) return;
      done({ x_mm: box.x0, y_mm: box.y0, length_mm: box.length, width_mm: box.width });
    },
    tap: () => tool.arm(false),
    cancel: () => tool.arm(false),
  };
}
