// The shape of an obstacle on the roof: its box, where its lid swings, what panels keep clear of, a new one's
// size.

const LEAN = Math.sin((20 * Math.PI) / 180); // an open lid leans this share of its length over its hinge side
const TURNED = { front: "left", left: "rear", rear: "right", right: "front", "": "" };

export const obstacleBox = (obstacle) => ({
  x0: obstacle.x_mm,
  y0: obstacle.y_mm,
  x1: obstacle.x_mm + obstacle.length_mm,
  y1: obstacle.y_mm + obstacle.width_mm,
  length: obstacle.length_mm,
  width: obstacle.width_mm,
});

function sweepOf({ x0, y0, x1, y1, length, width }, swing) {
  const [along, across] = [length * LEAN, width * LEAN];
  const sides = {
    front: [x1, y0, x1 + along, y1],
    rear: [x0 - along, y0, x0, y1],
    left: [x0, y1, x1, y1 + across],
    right: [x0, y0 - across, x1, y0],
  };
  return sides[swing] ?? null;
}

// Returns what panels keep clear of, as geometry.js reads it.
export function keepClearOf(obstacles) {
  return obstacles
    .filter((one) => !one.removed)
    .map((one) => {
      const box = obstacleBox(one);
      return {
        name: one.label,
        box: [box.x0, box.y0, box.x1, box.y1],
        keep_out: one.keep_out_mm,
        sweep: sweepOf(box, one.swing),
      };
    });
}

// Returns a new obstacle of the usual size of its kind.
export function newObstacle(usual, size) {
  return {
    key: crypto.randomUUID(),
    kind: usual.kind,
    label: "",
    swing: "",
    round: usual.round,
    removed: false,
    guess: true,
    x_mm: 0,
    y_mm: 0,
    length_mm: usual.length_mm ?? 500,
    width_mm: usual.width_mm ?? 300,
    height_mm: usual.height_mm ?? 100,
    open_mm: usual.open_mm,
    keep_out_mm: usual.keep_out_mm ?? 100,
    ...size,
  };
}

// Turns an obstacle a quarter to the left, its hinge side too.
export function turn(obstacle) {
  [obstacle.length_mm, obstacle.width_mm] = [obstacle.width_mm, obstacle.length_mm];
  obstacle.swing = TURNED[obstacle.swing];
}

const within = (value, [low, high]) => Math.round(Math.min(Math.max(value, low), high) * 10) / 10;

export function move(obstacle, x, y, limits) {
  obstacle.x_mm = within(obstacle.x_mm + x, limits.x_mm);
  obstacle.y_mm = within(obstacle.y_mm + y, limits.y_mm);
}
