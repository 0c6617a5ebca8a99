// Where panels lie and where a drag comes to rest. The server judges; this only leads the pointer.

import { onGrid, stepsOf } from "./lengths.js";

const PULL = 30; // mm: nearer than this a line pulls

export function boxOf(panel, parts) {
  const part = parts.get(panel.part);
  const [length, width] = panel.turned ? [part.width_mm, part.length_mm] : [part.length_mm, part.width_mm];
  return { x0: panel.x_mm, y0: panel.y_mm, x1: panel.x_mm + length, y1: panel.y_mm + width, length, width };
}

// Returns the panel at a place, the one drawn last where several lie over each other.
export function panelAt(layout, parts, { x, y }) {
  return layout.panels.findLast((panel) => {
    const box = boxOf(panel, parts);
    return x >= box.x0 && x <= box.x1 && y >= box.y0 && y <= box.y1;
  });
}

export function touches(one, other, gap = 0) {
  const tiny = 0.05;
  return (
    one.x0 < other.x1 + gap - tiny &&
    other.x0 < one.x1 + gap - tiny &&
    one.y0 < other.y1 + gap - tiny &&
    other.y0 < one.y1 + gap - tiny
  );
}

const asBox = ([x0, y0, x1, y1]) => ({ x0, y0, x1, y1 });

// Returns where a box dropped near (x, y) comes to rest, and the lines that pulled it.
export function settle(box, others, facts, pulls) {
  const along = pulls ? nearest(box.x0, linesAlong(box, others, facts)) : null;
  const across = pulls ? nearest(box.y0, linesAcross(box, others, facts)) : null;
  return {
    x: along ? along.at : onGrid(box.x0, facts.units),
    y: across ? across.at : onGrid(box.y0, facts.units),
    guides: { x: along?.line ?? null, y: across?.line ?? null },
  };
}

function nearest(value, lines) {
  let best = null;
  for (const one of lines) {
    const off = Math.abs(one.at - value);
    if (off <= PULL && (!best || off < Math.abs(best.at - value))) best = one;
  }
  return best;
}

function linesAlong(box, others, facts) {
  const { roof } = facts;
  const { gap } = stepsOf(facts.units);
  const lines = [
    { at: roof.edge, line: roof.edge },
    { at: roof.length - roof.front - box.length, line: roof.length - roof.front },
  ];
  if (box.length >= box.width) {
    for (const rafter of roof.rafters) lines.push({ at: rafter - box.length / 4, line: rafter });
  }
  for (const other of others) {
    lines.push(
      { at: other.x0, line: other.x0 },
      { at: other.x1 - box.length, line: other.x1 },
      { at: other.x1 + gap, line: other.x1 + gap },
      { at: other.x0 - gap - box.length, line: other.x0 - gap },
    );
  }
  for (const obstacle of facts.obstacles) {
    const around = asBox(obstacle.box);
    lines.push(
      { at: around.x1 + obstacle.keep_out, line: around.x1 + obstacle.keep_out },
      { at: around.x0 - obstacle.keep_out - box.length, line: around.x0 - obstacle.keep_out },
    );
  }
  return lines;
}

function linesAcross(box, others, facts) {
  const { roof } = facts;
  const { gap } = stepsOf(facts.units);
  const lines = [
    { at: roof.edge, line: roof.edge },
    { at: roof.width - roof.edge - box.width, line: roof.width - roof.edge },
  ];
  for (const other of others) {
    lines.push(
      { at: other.y0, line: other.y0 },
      { at: other.y1 - box.width, line: other.y1 },
      { at: other.y1 + gap, line: other.y1 + gap },
      { at: other.y0 - gap - box.width, line: other.y0 - gap },
    );
  }
  for (const obstacle of facts.obstacles) {
    const around = asBox(obstacle.box);
    lines.push(
      { at: around.y1 + obstacle.keep_out, line: around.y1 + obstacle.keep_out },
      { at: around.y0 - obstacle.keep_out - box.width, line: around.y0 - obstacle.keep_out },
    );
  }
  return lines;
}

// Returns the first free corner for something new, from the rear right on; the clear edge when there is none.
export function freePlace(size, taken, facts) {
  const edge = onGrid(facts.roof.edge, facts.units, Math.ceil);
  return firstFree(size, taken, facts, []) ?? { x: edge, y: edge };
}

// Returns where a new panel lies best by itself: off the ways a person walks, else free, else over as little
// as can be; turned only where it does not fit as it is. ``ways`` are { points, half } [mm], in roof
// coordinates.
export function bestPlace(size, taken, facts, ways) {
  const turned = { length: size.width, width: size.length };
  const spots = ways.flatMap(spotsOf);
  for (const kept of spots.length ? [spots, []] : [[]]) {
    for (const one of [size, turned]) {
      const place = firstFree(one, taken, facts, kept, true);
      if (place) return { ...place, turns: one === turned };
    }
  }
  return { ...leastOver(size, taken, facts), turns: false };
}

// Yields every corner to look at: rows from the right edge up, or from both long edges toward the middle.
function* corners(size, { roof, units }, steps, fromBoth = false) {
  const step = steps * stepsOf(units).grid;
  const start = onGrid(roof.edge, units, Math.ceil);
  const end = roof.width - roof.edge - size.width;
  const rows = [];
  for (let y = start; y <= end; y += step) rows.push(y);
  if (fromBoth) {
    rows.push(onGrid(end, units, Math.floor));
    rows.sort((one, other) => Math.min(one - start, end - one) - Math.min(other - start, end - other));
  }
  for (const y of rows) {
    for (let x = start; x + size.length <= roof.length - roof.front; x += step) {
      yield { x0: x, y0: y, x1: x + size.length, y1: y + size.width };
    }
  }
}

function firstFree(size, taken, facts, kept, fromBoth = false) {
  const { gap } = stepsOf(facts.units);
  for (const box of corners(size, facts, 5, fromBoth)) {
    const free =
      !taken.some((other) => touches(box, other, gap)) &&
      !facts.obstacles.some(
        ({ box: around, keep_out: apart, sweep }) =>
          touches(box, asBox(around), apart) || (sweep && touches(box, asBox(sweep))),
      ) &&
      !kept.some(
        ({ x, y, half }) => x > box.x0 - half && x < box.x1 + half && y > box.y0 - half && y < box.y1 + half,
      );
    if (free) return { x: box.x0, y: box.y0 };
  }
  return null;
}

// Returns points along a way, near enough that no panel fits between two of them.
function spotsOf({ points, half }) {
  const spots = [];
  points.slice(1).forEach(([x1, y1], place) => {
    const [x0, y0] = points[place];
    const count = Math.max(1, Math.ceil(Math.hypot(x1 - x0, y1 - y0) / 100));
    for (let step = 0; step <= count; step += 1) {
      spots.push({ x: x0 + ((x1 - x0) * step) / count, y: y0 + ((y1 - y0) * step) / count, half });
    }
  });
  return spots;
}

function leastOver(size, taken, facts) {
  const edge = onGrid(facts.roof.edge, facts.units, Math.ceil);
  let best = { x: edge, y: edge, over: Infinity };
  const obstacles = facts.obstacles.map(({ box: [x0, y0, x1, y1], keep_out: by }) => ({
    x0: x0 - by,
    y0: y0 - by,
    x1: x1 + by,
    y1: y1 + by,
  }));
  for (const box of corners(size, facts, 10)) {
    const over = [...taken, ...obstacles].reduce((sum, other) => sum + shared(box, other), 0);
    if (over < best.over) best = { x: box.x0, y: box.y0, over };
  }
  return { x: best.x, y: best.y };
}

function shared(one, other) {
  const along = Math.min(one.x1, other.x1) - Math.max(one.x0, other.x0);
  const across = Math.min(one.y1, other.y1) - Math.max(one.y0, other.y0);
  return Math.max(0, along) * Math.max(0, across);
}
