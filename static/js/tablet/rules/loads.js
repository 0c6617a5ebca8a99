// What of the pull list is loaded and what is missing; the same as checklists/rules/loads.py, and a test
// holds the two together. Counts that never saw each other both stand until a person looks.
import { NOTHING, reduceEvents } from "./reducer.js";

// { loaded: { key: fieldState }, short: { key: fieldState }, shortages: [{ key, missing, note, ids, … }] }
export function loadsOf(events) {
  const rows = [...events].filter((event) => !event.step);
  const short = standing(rows, "short");
  const shortages = Object.keys(short)
    .sort()
    .flatMap((key) => openOf(key, short[key]));
  return { loaded: standing(rows, "load"), short, shortages };
}

function standing(rows, verb) {
  const wanted = rows
    .filter((event) => event.verb === verb)
    .map((event) => ({ ...event, verb: "record", step: 0 }));
  const undone = rows.filter((event) => event.verb === "undo");
  const fields = reduceEvents([...wanted, ...undone]).get(0)?.fields ?? {};
  return Object.fromEntries(Object.entries(fields).filter(([, own]) => own.standing.length));
}

function openOf(key, state) {
  const rows = state.standing.filter((event) => event.value.missing > 0);
  if (!rows.length) return [];
  const worst = rows.reduce((one, other) => (isWorse(other, one) ? other : one));
  const { missing, note } = worst.value;
  return [{ key, missing, note, by_name: worst.by_name, event: worst, ids: state.standing.map((e) => e.id) }];
}

const isWorse = (one, other) =>
  one.value.missing > other.value.missing || (one.value.missing === other.value.missing && one.id > other.id);

export const seenOf = (states, key) => (states[key] ?? NOTHING).standing.map((event) => event.id);

// Whether all of a line is loaded; two counts that disagree are not.
export const isLoaded = (line, state) =>
  state?.values.length === 1 && state.values[0] >= line.quantity - 1e-6;
