// How the events of an install become what is known now: the same rules as checklists/reducer.py, and a test holds
// the two together. The answer depends on the set of events alone; no clock and no order of arrival decides.

export function canonical(value) {
  if (typeof value === "number") return Object.is(value, -0) ? "-0" : String(value);
  return JSON.stringify(value ?? null, sorted);
}

function sorted(_, value) {
  if (value === null || typeof value !== "object" || Array.isArray(value)) return value;
  return Object.fromEntries(Object.keys(value).sort().map((name) => [name, value[name]]));
}

// Map of step pk → { fields: { name: { standing, values, value, photos, isConflict, redoCount } }, notes }
export function reduceEvents(events) {
  const once = new Map([...events].map((event) => [event.id, event]));
  const undone = undoneBy(once);
  const inOrder = [...once.values()].sort((one, other) => (one.id < other.id ? -1 : 1));
  const states = new Map();
  const records = new Map();
  const stateOf = (step) => {
    if (!states.has(step)) states.set(step, { fields: {}, notes: [] });
    return states.get(step);
  };
  for (const event of inOrder) {
    if (event.verb === "record") {
      const key = JSON.stringify([event.step, event.field ?? ""]);
      if (!records.has(key)) records.set(key, []);
      records.get(key).push(event);
    } else if (event.verb === "note" && !undone.has(event.id)) stateOf(event.step).notes.push(event);
  }
  for (const found of records.values()) stateOf(found[0].step).fields[found[0].field ?? ""] = fieldState(found, undone);
  return states;
}

function undoneBy(events) {
  const targets = new Set();
  for (const event of events.values()) {
    if (event.verb === "undo" && event.undoes && events.has(event.undoes) && events.get(event.undoes).verb !== "undo") {
      targets.add(event.undoes);
    }
  }
  return targets;
}

function fieldState(records, undone) {
  const live = records.filter((event) => !undone.has(event.id));
  const byId = new Map(records.map((event) => [event.id, event]));
  const covered = new Set(live.flatMap((event) => [...covers(event, byId)]));
  let standing = live.filter((event) => !covered.has(event.id));
  if (live.length && !standing.length) standing = live; // values that replace each other in a ring: hide none
  const distinct = (some) => new Map(some.filter((event) => !event.photo).reverse().map((event) => [canonical(event.value), event.value]));
  const now = distinct(standing);
  const values = [...now.values()].reverse();
  return {
    standing,
    values,
    value: values.length === 1 ? values[0] : null,
    photos: [...new Set(standing.filter((event) => event.photo).map((event) => event.photo))],
    isConflict: values.length > 1,
    redoCount: [...distinct(records).keys()].filter((key) => !now.has(key)).length,
  };
}

// Every value that this one replaces, also through values that were undone since.
function covers(event, byId) {
  const found = new Set();
  const waiting = [...(event.replaces ?? [])];
  while (waiting.length) {
    const name = waiting.pop();
    if (found.has(name) || name === event.id) continue;
    found.add(name);
    if (byId.has(name)) waiting.push(...(byId.get(name).replaces ?? []));
  }
  return found;
}

export const NOTHING = Object.freeze({ standing: [], values: [], value: null, photos: [], isConflict: false, redoCount: 0 });
export const EMPTY = Object.freeze({ fields: {}, notes: [] });

export const fieldOf = (states, step, name) => states.get(step.pk)?.fields[name] ?? NOTHING;
