// What the recorded values do to the sums: the same as checklists/rules/as_built.py, with the engine's
// answers read from tables that came with the job.

import { NotCovered, Reader } from "../tables/reader.js";
import { asked, compared, unknown, worstFirst } from "./changes.js";
import { contradictions, isChoice } from "./choices.js";
import { feeding, stepsFor, valuesOf } from "./reported.js";

// Returns what got worse or moved against the accepted sums, the worst first.
export function judge(sums, values, job = null, state = null) {
  if (!Object.keys(values).length) return [];
  const problem = problemOf(sums, values);
  if (problem) return [unknown(sums, "as_built", "Values as built", `Values as built: ${problem}`)];
  const reader = new Reader(sums, values);
  const found = [];
  for (const tables of sums.checks) {
    if (!tables.key.includes("#")) found.push(compared(sums, tables.key, reader.check(tables)));
  }
  for (const ask of sums.asks) {
    if (ask.names.some((name) => name in values)) found.push(asked(sums, ask.key, ask.title));
  }
  const list = found.filter((each) => each !== null && each.kind !== "cleared").sort(worstFirst);
  const names = job && state ? feeding(job, state) : [];
  return list.map((each) => ({ ...each, step_names: stepsFor(sums.rules.changed_by, names, each.subject) }));
}

// Returns why these values cannot be worked out together; empty when they can.
export function problemOf(sums, values) {
  const { settings } = new Reader(sums, values);
  for (const [axis, { refused, otherwise }] of sums.axes.entries()) {
    const why = refused[settings.text(axis)];
    if (why !== undefined) return why;
    if (otherwise && settings.option(axis) === null) return settings.otherwise(axis);
  }
  return "";
}

// What was worked out of one state, so that many steps ask for it once.
const remembered = new WeakMap();

function worked(job, state) {
  let found = remembered.get(state);
  if (found?.job !== job) {
    const values = valuesOf(job, state);
    const isKnown = sameValues(values, job.as_built ?? {});
    const problem = isKnown || !job.sums ? (job.as_built_problem ?? "") : problemOf(job.sums, values);
    const reader = job.sums ? new Reader(job.sums, problem ? {} : values) : null;
    found = { job, values, isKnown, problem, reader };
    remembered.set(state, found);
  }
  return found;
}

function sameValues(one, other) {
  const names = Object.keys(one);
  return names.length === Object.keys(other).length && names.every((name) => one[name] === other[name]);
}

// Returns the reader of what was recorded here; null where the office knows all of it, or nobody can tell.
export function readerNow(job, state) {
  if (!job.sums) return null;
  const known = worked(job, state);
  return known.isKnown || known.problem ? null : known.reader;
}

// Returns why the values as built cannot be worked out together; empty when they can.
export const asBuiltProblem = (job, state) => worked(job, state).problem;

// Returns which string plan stands as built, as a place in the list of plans that came with the job.
export function planAsBuilt(job, state) {
  const { reader } = worked(job, state);
  const axis = job.sums.readings.axis;
  return axis === null ? 0 : (reader.settings.option(axis) ?? 0);
}

// Returns a number of a circuit's row as built (`drop_v`), null when it is not known.
export function rowAsBuilt(job, state, circuit, quantity) {
  try {
    return worked(job, state).reader.row(circuit, quantity);
  } catch (problem) {
    if (problem instanceof NotCovered) return null;
    throw problem;
  }
}

// Returns the deviations as they stand on this tablet: those the office knows, without what a later value
// took away, and what the values recorded here made worse. As the server raises them.
export function deviationsNow(job, state) {
  const known = worked(job, state);
  known.deviations ??= [...choicesOf(job, state), ...deviationsOf(job, state, known)];
  return known.deviations;
}

// Choices that contradict: those the office knows as it decided on them, the others open.
function choicesOf(job, state) {
  const stored = (job.deviations ?? []).filter((row) => isChoice(row) && row.state !== "resolved");
  if (!job.suited) return stored;
  const known = new Map(stored.map((row) => [row.key, row]));
  return contradictions(job, state).map((each) => known.get(each.key) ?? openChoice(each));
}

const openChoice = (found) => ({
  ...found,
  pk: null,
  step_names: [found.step],
  verdict: "block",
  value: null,
  limit: null,
  unit: "",
  state: "open",
  blocks: true,
  can_be_accepted: true,
});

function deviationsOf(job, state, { values, isKnown, problem }) {
  const stored = (job.deviations ?? []).filter((row) => !isChoice(row));
  if (isKnown || problem || !job.sums) return stored;
  const found = new Map(judge(job.sums, values, job, state).map((each) => [each.key, each]));
  const standing = stored.filter((row) => row.state !== "resolved");
  const kept = standing.filter((row) => found.has(row.key) && isSame(row, found.get(row.key)));
  const told = new Set(kept.map((row) => row.key));
  const fresh = [...found.values()].filter((each) => !told.has(each.key)).map((each) => raised(job, each));
  return [...fresh, ...kept];
}

function isSame(row, found) {
  return row.verdict === found.verdict && near(row.value, found.value) && near(row.limit, found.limit);
}

function near(one, other) {
  if (one === null || other === null) return one === other;
  return Math.abs(one - other) <= 1e-9 * Math.max(1e-3, Math.abs(one), Math.abs(other));
}

function raised(job, found) {
  return {
    ...found,
    pk: null,
    step: found.step_names.at(-1) ?? null,
    state: "open",
    blocks: found.verdict === "block",
    can_be_accepted: !job.sums.rules.never_accepted.some((end) => found.key.endsWith(end)),
  };
}
