// Knows where panels lie and where the hand lets go of them. The server judges; this only leads the hand.

export const GRID = 10; // mm
const PULL = 30; // mm: nearer than this a line pulls
const GAP = 20; // mm between neighbours

export function boxOf(panel, parts) {
  const part = parts.get(panel.part);
  const [length, width] = panel.turned ? [part.width_mm, part.length_mm] : [part.length_mm, part.width_mm];
  return { x0: panel.x_mm, y0: panel.y_mm, x1: panel.x_mm + length, y1: panel.y_mm + width, length, width };
}

export const onGrid = (mm) => Math.round(mm / GRID) * GRID;

export function touches(one, other, gap = 0) {
  const tiny = 0.05;
  return (
    one.x0 < other.x1 + gap - tiny && other.x0 < one.x1 + gap - tiny &&
    one.y0 < other.y1 + gap - tiny && other.y0 < one.y1 + gap - tiny
  );
}

const asBox = ([x0, y0, x1, y1]) => ({ x0, y0, x1, y1 });

// Returns where a box dropped near (x, y) comes to rest, and the lines that pulled it.
export function settle(box, others, facts, pulls) {
  const along = pulls ? nearest(box.x0, linesAlong(box, others, facts)) : null;
  const across = pulls ? nearest(box.y0, linesAcross(box, others, facts)) : null;
  return {
    x: along ? along.at : onGrid(box.x0),
    y: across ? across.at : onGrid(box.y0),
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
  const lines = [
    { at: roof.edge, line: roof.edge },
    { at: roof.length - roof.front - box.length, line: roof.length - roof.front },
  ];
  if (box.length >= box.width) {
    for (const rafter of roof.rafters) lines.push({ at: rafter - box.length / 4, line: rafter });
  }
  for (const other of others) {
    lines.push(
      { at: other.x0, line: other.x0 }, { at: other.x1 - box.length, line: other.x1 },
      { at: other.x1 + GAP, line: other.x1 + GAP }, { at: other.x0 - GAP - box.length, line: other.x0 - GAP },
    );
  }
  for (const thing of facts.obstacles) {
    const around = asBox(thing.box);
    lines.push(
      { at: around.x1 + thing.keep_out, line: around.x1 + thing.keep_out },
      { at: around.x0 - thing.keep_out - box.length, line: around.x0 - thing.keep_out },
    );
  }
  return lines;
}

function linesAcross(box, others, facts) {
  const { roof } = facts;
  const lines = [
    { at: roof.edge, line: roof.edge },
    { at: roof.width - roof.edge - box.width, line: roof.width - roof.edge },
  ];
  for (const other of others) {
    lines.push(
      { at: other.y0, line: other.y0 }, { at: other.y1 - box.width, line: other.y1 },
      { at: other.y1 + GAP, line: other.y1 + GAP }, { at: other.y0 - GAP - box.width, line: other.y0 - GAP },
    );
  }
  for (const thing of facts.obstacles) {
    const around = asBox(thing.box);
    lines.push(
      { at: around.y1 + thing.keep_out, line: around.y1 + thing.keep_out },
      { at: around.y0 - thing.keep_out - box.width, line: around.y0 - thing.keep_out },
    );
  }
  return lines;
}

// Returns the first free corner for a new panel, from the rear right on; the clear edge when there is none.
export function freePlace(size, taken, facts) {
  const { roof } = facts;
  const step = 5 * GRID;
  const start = Math.ceil(roof.edge / GRID) * GRID;
  for (let y = start; y + size.width <= roof.width - roof.edge; y += step) {
    for (let x = start; x + size.length <= roof.length - roof.front; x += step) {
      const box = { x0: x, y0: y, x1: x + size.length, y1: y + size.width };
      const free =
        !taken.some((other) => touches(box, other, GAP)) &&
        !facts.obstacles.some(
          (thing) => touches(box, asBox(thing.box), thing.keep_out) || (thing.sweep && touches(box, asBox(thing.sweep))),
        );
      if (free) return { x, y };
    }
  }
  return { x: start, y: start };
}
