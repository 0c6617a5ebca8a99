// How the events of an install become what is known now: the same rules as checklists/rules/reducer.py, and a
// test holds the two together. The answer depends on the set of events alone; no clock and no order of
// arrival decides.

export function canonical(value) {
  if (typeof value === "number") return Object.is(value, -0) ? "-0" : String(value);
  return JSON.stringify(value ?? null, sorted);
}

function sorted(_, value) {
  if (value === null || typeof value !== "object" || Array.isArray(value)) return value;
  return Object.fromEntries(
    Object.keys(value)
      .sort()
      .map((name) => [name, value[name]]),
  );
}

// Map of step pk → { fields: { name: { standing, values, value, photos, isConflict, redoCount } }, notes }
export function reduceEvents(events) {
  const once = new Map([...events].map((event) => [event.id, event]));
  const undone = undoneBy(once);
  const inOrder = [...once.values()].sort((one, other) => (one.id < other.id ? -1 : 1));
  const states = new Map();
  const records = new Map();
  const stateOf = (step) => {
    if (!states.has(step)) states.set(step, { fields: {}, notes: [], acks: [], takenBack: [] });
    return states.get(step);
  };
  for (const event of inOrder) {
    if (event.verb === "record") {
      const key = JSON.stringify([event.step, event.field ?? ""]);
      if (!records.has(key)) records.set(key, []);
      records.get(key).push(event);
      if (undone.has(event.id)) stateOf(event.step).takenBack.push([event, undone.get(event.id)]);
    } else if (event.verb === "note" && !undone.has(event.id)) stateOf(event.step).notes.push(event);
    else if (event.verb === "safety" && !undone.has(event.id)) stateOf(event.step).acks.push(event);
  }
  for (const found of records.values())
    stateOf(found[0].step).fields[found[0].field ?? ""] = fieldState(found, undone);
  return states;
}

// What an undo takes away, with the undo.
function undoneBy(events) {
  const targets = new Map();
  for (const event of events.values()) {
    if (event.verb !== "undo" || !event.undoes || !events.has(event.undoes)) continue;
    if (events.get(event.undoes).verb === "undo") continue;
    const first = targets.get(event.undoes);
    if (!first || event.id < first.id) targets.set(event.undoes, event);
  }
  return targets;
}

function fieldState(records, undone) {
  const live = records.filter((event) => !undone.has(event.id));
  const byId = new Map(records.map((event) => [event.id, event]));
  const covered = coveredBy(live, byId);
  let standing = live.filter((event) => !covered.has(event.id));
  if (live.length && !standing.length) standing = live; // values that replace each other in a ring: hide none
  const now = distinct(standing);
  return fieldFrom(standing, [...distinct(records).keys()].filter((key) => !now.has(key)).length);
}

const distinct = (events) => {
  const found = new Map();
  for (const event of events)
    if (!event.photo && !found.has(canonical(event.value))) found.set(canonical(event.value), event.value);
  return found;
};

export function fieldFrom(standing, redoCount) {
  const values = [...distinct(standing).values()];
  const photos = new Set(standing.filter((event) => event.photo).map((event) => event.photo));
  return {
    standing,
    values,
    value: values.length === 1 ? values[0] : null,
    photos: [...photos],
    isConflict: values.length > 1,
    redoCount,
  };
}

// What stands at a step of what was recorded on this design revision or a later one.
export function sinceDesign(state, design) {
  const kept = (own) =>
    fieldFrom(
      own.standing.filter((event) => (event.design_number ?? 0) >= design),
      own.redoCount,
    );
  return {
    fields: Object.fromEntries(Object.entries(state.fields).map(([name, own]) => [name, kept(own)])),
    notes: state.notes,
    acks: state.acks ?? [],
    takenBack: state.takenBack ?? [],
  };
}

// Every value that another live one replaces, also through values that were undone since. Two names of who
// covers a value are enough: one of them is not its own.
function coveredBy(live, byId) {
  const by = new Map();
  const waiting = live.map((event) => [event.id, event.replaces ?? []]);
  while (waiting.length) {
    const [from, names] = waiting.pop();
    for (const name of names) {
      const known = by.get(name) ?? [];
      if (known.length > 1 || known[0] === from) continue;
      by.set(name, [...known, from]);
      if (byId.has(name)) waiting.push([from, byId.get(name).replaces ?? []]);
    }
  }
  return new Set([...by].filter(([name, from]) => from.some((one) => one !== name)).map(([name]) => name));
}

// Events in the order they were done: to be shown, decides nothing.
export function asDone(events) {
  const when = ({ done_at, at, received_at }) => Date.parse(done_at ?? at ?? received_at ?? 0) || 0;
  return [...events].sort(
    (one, other) => when(one) - when(other) || (one.id < other.id ? -1 : one.id > other.id ? 1 : 0),
  );
}

export const NOTHING = Object.freeze({
  standing: [],
  values: [],
  value: null,
  photos: [],
  isConflict: false,
  redoCount: 0,
});
export const EMPTY = Object.freeze({ fields: {}, notes: [], acks: [], takenBack: [] });

export const fieldOf = (states, step, name) => states.get(step.pk)?.fields[name] ?? NOTHING;
