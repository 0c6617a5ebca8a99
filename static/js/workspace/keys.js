// Reads keys the way every tool on the roof means them: letters, arrows, the next one round.

import { stepsOf } from "./lengths.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

export const letterOf = (event) => (event.key.length === 1 ? event.key.toLowerCase() : event.key);

export const isPlain = (event) => !event.ctrlKey && !event.metaKey;

// Returns how far an arrow key moves what is chosen [mm], along and across; null for any other key.
export function arrowOf(event, units) {
  const arrow = ARROWS[event.key];
  if (!arrow) return null;
  const { grid, far } = stepsOf(units);
  const step = event.shiftKey ? far : grid;
  return [arrow[0] * step, arrow[1] * step];
}

// Returns the one that follows (step 1) or precedes (step -1) in a list, round its ends; from either end at
// first.
export function nextIn(list, current, step) {
  const at = list.indexOf(current);
  if (at < 0) return step > 0 ? list[0] : list.at(-1);
  return list[(at + step + list.length) % list.length];
}
