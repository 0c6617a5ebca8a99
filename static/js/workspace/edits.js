// Every change a person can make to the panels of a layout; each works on a copy that the store keeps as one
// step.

import { bestPlace, boxOf } from "./geometry.js";
import { stepsOf } from "./lengths.js";

const LIMITS = { x: [-1000, 16000], y: [-1000, 4000] };
const held = (value, [low, high]) => Math.round(Math.min(Math.max(value, low), high) * 10) / 10;

const chosenOf = (layout, chosen) =>
  chosen.map((number) => layout.panels.find((one) => one.number === number)).filter(Boolean);

function lowestFree(layout) {
  const taken = new Set(layout.panels.map((one) => one.number));
  let number = 1;
  while (taken.has(number)) number += 1;
  return number;
}

export function move(layout, chosen, x, y) {
  for (const panel of chosenOf(layout, chosen)) {
    panel.x_mm = held(panel.x_mm + x, LIMITS.x);
    panel.y_mm = held(panel.y_mm + y, LIMITS.y);
  }
}

export function add(layout, part, parts, facts, ways) {
  const size = { length: part.length_mm, width: part.width_mm };
  const taken = layout.panels.map((one) => boxOf(one, parts));
  const { x, y, turns } = bestPlace(size, taken, facts, ways);
  const number = lowestFree(layout);
  const panel = {
    number,
    part: part.id,
    x_mm: x,
    y_mm: y,
    turned: turns,
    height_mm: stepsOf(facts.units).height,
    feet: part.feet,
    fasteners: 4,
  };
  layout.panels.push(panel);
  layout.panels.sort((one, other) => one.number - other.number);
  return number;
}

export function duplicate(layout, chosen, parts, facts, ways) {
  const made = [];
  for (const panel of chosenOf(layout, chosen)) {
    const taken = layout.panels.map((one) => boxOf(one, parts));
    const { x, y, turns } = bestPlace(boxOf(panel, parts), taken, facts, ways);
    const number = lowestFree(layout);
    layout.panels.push({ ...panel, number, x_mm: x, y_mm: y, turned: panel.turned !== turns });
    made.push(number);
  }
  layout.panels.sort((one, other) => one.number - other.number);
  return made;
}

export function remove(layout, chosen) {
  layout.panels = layout.panels.filter((one) => !chosen.includes(one.number));
  unwire(layout, chosen);
}

export function rotate(layout, chosen) {
  for (const panel of chosenOf(layout, chosen)) panel.turned = !panel.turned;
}

export function unwire(layout, chosen) {
  for (const string of layout.strings) string.panels = string.panels.filter((one) => !chosen.includes(one));
  layout.strings = layout.strings.filter((one) => one.panels.length);
}

export function wire(layout, chosen, controller) {
  unwire(layout, chosen);
  layout.strings.push({ panels: [...chosen], controller, fuse_a: null });
}

export function align(layout, chosen, side, parts) {
  const panels = chosenOf(layout, chosen);
  const boxes = panels.map((one) => boxOf(one, parts));
  const ends = {
    rear: () => Math.min(...boxes.map((one) => one.x0)),
    front: () => Math.max(...boxes.map((one) => one.x1)),
    right: () => Math.min(...boxes.map((one) => one.y0)),
    left: () => Math.max(...boxes.map((one) => one.y1)),
  };
  const end = ends[side]();
  panels.forEach((panel, place) => {
    if (side === "rear") panel.x_mm = end;
    if (side === "front") panel.x_mm = held(end - boxes[place].length, LIMITS.x);
    if (side === "right") panel.y_mm = end;
    if (side === "left") panel.y_mm = held(end - boxes[place].width, LIMITS.y);
  });
}

export function spread(layout, chosen, isAlong, parts) {
  const [at, start, size] = isAlong ? ["x_mm", "x0", "length"] : ["y_mm", "y0", "width"];
  const rows = chosenOf(layout, chosen).map((panel) => ({ panel, box: boxOf(panel, parts) }));
  rows.sort((one, other) => one.box[start] - other.box[start]);
  if (rows.length < 3) return;
  const last = rows.at(-1).box;
  const whole = last[start] + last[size] - rows[0].box[start];
  const gap = (whole - rows.reduce((sum, row) => sum + row.box[size], 0)) / (rows.length - 1);
  let next = rows[0].box[start];
  for (const row of rows) {
    row.panel[at] = Math.round(next * 10) / 10;
    next += row.box[size] + gap;
  }
}
