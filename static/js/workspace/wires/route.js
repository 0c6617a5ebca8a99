// The wires of a layout: leads from strings to combiners, home runs from there to the gland, and their bends.

import { boxOf } from "../geometry.js";
import { stretchAt } from "./lines.js";

const INSET = 70; // mm: middle of a junction box from the edge of its side
const MOST_BENDS = 20;
export const LIMITS = {
  x: [-1000, 16000, "From the rear", "length", false],
  y: [-1000, 4000, "From the right", "length", false],
  slack: [0, 0.5, "Slack", "percent", false],
};
const GLAND = { x: [0, 16000], y: [0, 4000] };

const within = (value, [low, high]) => Math.round(Math.min(Math.max(value, low), high) * 10) / 10;

// Returns where the leads of a panel come out.
function boxAt(panel, parts) {
  const { x0, y0, x1, y1, length, width } = boxOf(panel, parts);
  const { box } = parts.get(panel.part);
  if (box === "middle") return [x0 + length / 2, y0 + width / 2];
  if ((box === "short") !== panel.turned) return [panel.box_far ? x1 - INSET : x0 + INSET, y0 + width / 2];
  return [x0 + length / 2, panel.box_far ? y1 - INSET : y0 + INSET];
}

// Returns every wire: its id, words, bends, and the points before and after them.
export const wiresOf = (layout, parts) => [...leads(layout, parts), ...homeRuns(layout)];

function leads({ strings, panels, path }, parts) {
  const found = [];
  for (const [place, string] of strings.entries()) {
    const own = string.panels.map((number) => panels.find((one) => one.number === number)).filter(Boolean);
    const last = path.combiners[string.controller];
    if (!last || !own.length) continue;
    found.push({
      id: `lead:${place}`,
      words: `Leads of string ${place + 1}`,
      ends: [boxAt(own[0], parts), boxAt(own.at(-1), parts)],
      bends: string.lead ?? [],
      last,
    });
  }
  return found;
}

function homeRuns({ path }) {
  return Object.entries(path.combiners).map(([label, at]) => ({
    id: `home:${label}`,
    words: `Home run of ${label}`,
    ends: [at],
    bends: path.homes[label] ?? [],
    last: path.gland,
  }));
}

const wireOf = (layout, id, parts) => wiresOf(layout, parts).find((one) => one.id === id);

// Returns every point that can be moved: id, words, place.
export function pointsOf(layout, parts) {
  const { gland, combiners } = layout.path;
  const found = gland ? [{ id: "gland", words: "Gland", at: gland }] : [];
  for (const [label, at] of Object.entries(combiners)) {
    found.push({ id: `combiner:${label}`, words: `Combiner ${label}`, at });
  }
  for (const wire of wiresOf(layout, parts)) {
    for (const [place, at] of wire.bends.entries()) {
      found.push({ id: `bend:${wire.id}:${place}`, words: `${wire.words}, bend ${place + 1}`, at, wire });
    }
  }
  return found;
}

export function setBends(layout, id, bends) {
  const [kind, name] = id.split(":");
  const [holder, key] = kind === "lead" ? [layout.strings[Number(name)], "lead"] : [layout.path.homes, name];
  if (bends.length) holder[key] = bends;
  else delete holder[key];
}

export function placePoint(layout, id, x, y, parts) {
  const limits = id === "gland" ? GLAND : LIMITS;
  const at = [within(x, limits.x), within(y, limits.y)];
  const [kind, ...rest] = id.split(":");
  if (kind === "gland") layout.path.gland = at;
  else if (kind === "combiner") layout.path.combiners[rest[0]] = at;
  else {
    const wire = wireOf(layout, `${rest[0]}:${rest[1]}`, parts);
    setBends(layout, wire.id, wire.bends.toSpliced(Number(rest[2]), 1, at));
  }
}

// Puts a bend into the wire, where it is nearest to the place unless told; returns its id.
export function addBend(layout, wireId, { x, y }, parts, at = null) {
  const wire = wireOf(layout, wireId, parts);
  if (!wire || wire.bends.length >= MOST_BENDS) return null;
  const there = at ?? stretchAt(wire, x, y);
  setBends(layout, wireId, wire.bends.toSpliced(there, 0, [within(x, LIMITS.x), within(y, LIMITS.y)]));
  return `bend:${wireId}:${there}`;
}

// Puts a bend half way between the last one and what follows it; returns its id.
export function bendHalfWay(layout, wireId, parts) {
  const wire = wireOf(layout, wireId, parts);
  if (!wire) return wireId;
  const before = wire.bends.at(-1) ?? wire.ends[0];
  const after = wire.last ?? before;
  const middle = { x: (before[0] + after[0]) / 2, y: (before[1] + after[1]) / 2 };
  return addBend(layout, wireId, middle, parts);
}

export function removePoint(layout, id, parts) {
  const [kind, ...rest] = id.split(":");
  if (kind === "gland") layout.path.gland = null;
  else if (kind === "combiner") removeCombiner(layout, rest[0]);
  else {
    const wire = wireOf(layout, `${rest[0]}:${rest[1]}`, parts);
    setBends(layout, wire.id, wire.bends.toSpliced(Number(rest[2]), 1));
  }
}

function removeCombiner(layout, label) {
  delete layout.path.combiners[label];
  delete layout.path.homes[label];
  for (const string of layout.strings) if (string.controller === label) delete string.lead;
}
