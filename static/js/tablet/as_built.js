// Knows which recorded values change the sums, and reads the engine's answers to them from tables made
// beforehand (checklists/tables/build.py). No formula of the trade stands here: what the tables do not
// cover is said to be unknown, never passed.

import { valueAt } from "./steps.js";
import { written } from "./words.js";

const SEVERITY = { pass: 0, caution: 1, not_enough_data: 2, block: 3 };
const WORDS = { pass: "pass", caution: "caution", not_enough_data: "not enough data", block: "block" };
const VERDICTS = ["", "pass", "caution", "not_enough_data", "block"]; // the order in which tables lean on them
const MOVED = 0.05; // change of a value worth telling, as sizing.compare_checks [-]
const ASK = "The tablet cannot work this out: ask the office, or wait for the network.";

/** Return the values as built, by the names the sums know; disputed and missing ones stay as planned. */
export function valuesOf(job, state) {
  const values = {};
  for (const { field, value } of fed(job, state)) {
    if (field.feeds_as !== "sum") values[field.feeds] = value;
  }
  const feet = feetFitted(job, state);
  if (feet !== null) values["roof.feet"] = feet;
  dropUnchangedStrings(values, job.facts);
  return values;
}

/** Return what got worse or moved against the accepted sums, the worst first. */
export function judge(sums, values, job = null, state = null) {
  if (!Object.keys(values).length) return [];
  const problem = problemOf(sums, values);
  if (problem) return [unknown(sums, "as_built", "Values as built", `Values as built: ${problem}`)];
  const reader = new Reader(sums, values);
  const found = [];
  for (const tables of sums.checks) {
    if (!tables.key.includes("#")) found.push(compared(sums, tables.key, answer(reader, tables)));
  }
  for (const ask of sums.asks) {
    if (ask.names.some((name) => name in values)) found.push(asked(sums, ask));
  }
  const list = found.filter((each) => each !== null && each.kind !== "cleared").sort(worstFirst);
  const names = job && state ? feeding(job, state) : [];
  return list.map((each) => ({ ...each, step_names: stepsFor(sums.rules.changed_by, names, each.subject) }));
}

/** Return why these values cannot be worked out together; empty when they can. */
export function problemOf(sums, values) {
  const reader = new Reader(sums, values);
  for (let axis = 0; axis < sums.axes.length; axis += 1) {
    const why = sums.axes[axis].refused[reader.text(axis)];
    if (why !== undefined) return why;
    if (sums.axes[axis].otherwise && reader.option(axis) === null) return reader.otherwise(axis);
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
    found = {
      job,
      values,
      isKnown,
      problem,
      reader: job.sums ? new Reader(job.sums, problem ? {} : values) : null,
    };
    remembered.set(state, found);
  }
  return found;
}

function sameValues(one, other) {
  const names = Object.keys(one);
  return names.length === Object.keys(other).length && names.every((name) => one[name] === other[name]);
}

/** Return why the values as built cannot be worked out together; empty when they can. */
export const asBuiltProblem = (job, state) => worked(job, state).problem;

/** Return which string plan stands as built, as a place in the list of plans that came with the job. */
export function planAsBuilt(job, state) {
  const { reader } = worked(job, state);
  const axis = job.sums.readings.axis;
  return axis === null ? 0 : (reader.option(axis) ?? 0);
}

/** Return a number of a circuit's row as built (`drop_v`), null when it is not known. */
export function rowAsBuilt(job, state, circuit, quantity) {
  try {
    return worked(job, state).reader.row(circuit, quantity);
  } catch (problem) {
    if (problem instanceof NotCovered) return null;
    throw problem;
  }
}

/**
 * Return the deviations as they stand on this tablet: those the office knows, without what a later value took
 * away, and what the values recorded here made worse. As checklists/record/deviations.py raises them.
 */
export function deviationsNow(job, state) {
  const known = worked(job, state);
  known.deviations ??= deviationsOf(job, state, known);
  return known.deviations;
}

function deviationsOf(job, state, { values, isKnown, problem }) {
  const stored = job.deviations ?? [];
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

/** Return every check the tables know, with the values laid over: key → verdict, value, limit, words. */
export function answers(sums, values) {
  const reader = new Reader(sums, values);
  const out = {};
  for (const tables of sums.checks) out[tables.key] = answer(reader, tables);
  return out;
}

// -- reported values ------------------------------------------------------------------------------------

function* fed(job, state) {
  for (const step of job.steps) {
    if (!step.is_in_scope) continue;
    const fields = state.get(step.pk)?.fields ?? {};
    for (const field of step.fields) {
      if (!field.feeds) continue;
      const value = converted(field, fields[field.name]?.value);
      if (value !== null && value !== undefined) yield { step, field, value };
    }
  }
}

function converted(field, value) {
  if (value === null || value === undefined || value === "") return null;
  if (field.feeds_map) return field.feeds_map[String(value)] ?? null;
  if (typeof value === "number") {
    const scaled = value * (field.feeds_scale ?? 1);
    return field.whole ? Math.trunc(scaled) : scaled;
  }
  return value;
}

/** Return the feet of all panels once one was counted: those not counted yet as planned. */
function feetFitted(job, state) {
  let total = 0;
  let isCounted = false;
  const panels = job.facts.panel ?? {};
  for (const { field } of fed(job, state)) isCounted ||= field.feeds === "roof.feet";
  if (!isCounted) return null;
  for (const [name, planned] of Object.entries(panels)) {
    const value = valueAt(job, state, "D2", "feet", `panel:${name}`);
    total += value === null ? planned.feet : Math.trunc(value);
  }
  return total;
}

function dropUnchangedStrings(values, facts) {
  const ns = values["strings.ns"] ?? null;
  const np = values["strings.np"] ?? null;
  if (ns === null || np === null || (ns === facts.ns && np === facts.np)) {
    delete values["strings.ns"];
    delete values["strings.np"];
  }
}

function feeding(job, state) {
  return [...fed(job, state)].map(({ step, field }) => ({ step, feeds: field.feeds }));
}

/** Return the steps whose values did it, by pk: those that feed this check, else every one that feeds. */
function stepsFor(changedBy, names, subject) {
  const [kind, name = ""] = split(subject);
  const prefix = (changedBy[kind] ?? "").replace("{name}", name);
  const mine = names.filter((each) => each.feeds.startsWith(prefix));
  return [...new Set((mine.length ? mine : names).map((each) => each.step.pk))];
}

function split(subject) {
  const at = subject.indexOf(":");
  return at < 0 ? [subject] : [subject.slice(0, at), subject.slice(at + 1)];
}

// -- tables ---------------------------------------------------------------------------------------------

class NotCovered extends Error {}

const indexed = new WeakMap();

function tablesByKey(sums) {
  if (!indexed.has(sums)) indexed.set(sums, new Map(sums.checks.map((tables) => [tables.key, tables])));
  return indexed.get(sums);
}

class Reader {
  constructor(sums, values) {
    this.sums = sums;
    this.values = values;
    this.rows = new Map();
    this.options = new Map();
    this.tables = tablesByKey(sums);
  }

  /** Return what the reported values say on a switch, as one text. */
  text(axis) {
    return this.sums.axes[axis].parts.map((part) => this.part(part)).join("|");
  }

  option(axis) {
    if (!this.options.has(axis)) {
      const at = this.sums.axes[axis].options.indexOf(this.text(axis));
      this.options.set(axis, at < 0 ? null : at);
    }
    return this.options.get(axis);
  }

  /** Return what is said of a setting that is none of a switch's options. */
  otherwise(axis) {
    const { parts, otherwise } = this.sums.axes[axis];
    return otherwise.replace(/\{(\d)\}/g, (_, place) => this.values[parts[place].name]);
  }

  part(part) {
    const reported = this.values[part.name] ?? null;
    if (part.as === "value") return reported === null ? part.plan : textOf(reported);
    if (part.as === "band") {
      const count = reported === null ? part.plan : reported;
      const below = part.starts.filter((start) => start <= count);
      return below.length ? String(Math.max(...below)) : "?";
    }
    const feet = this.values[part.feet] ?? part.feet_plan;
    const onRafter = reported === null ? part.plan : reported;
    if (onRafter === null) return "null";
    if (onRafter >= feet) return ">=";
    return onRafter === 0 ? "0" : "<";
  }

  /** Return what a line reads: as reported, or a drop added up from its circuits; null when not known. */
  x(number) {
    const line = this.sums.lines[number];
    if (line.legs) return this.added(line);
    const names = line.chains ? (line.chains[this.plan()] ?? []) : [line.name];
    const value = this.values[names.find((name) => (this.values[name] ?? null) !== null)] ?? null;
    if (value !== null && !(value >= line.low && value <= line.high)) throw new NotCovered(line.name);
    return value;
  }

  /** Return which string plan the reported values mean. */
  plan() {
    const axis = this.sums.axes.findIndex((each) => each.parts[0].name === "strings.ns");
    return axis < 0 ? 0 : (this.option(axis) ?? 0);
  }

  added(line) {
    const legs = line.legs.map((leg) =>
      leg.map((name) => this.row(name, line.quantity)).filter((x) => x !== null),
    );
    const isKnown = legs.some((leg) => leg.length);
    if (!isKnown) return null;
    if (line.quantity === "run_len_m") return legs.flat().reduce((sum, x) => sum + x, 0);
    if (line.quantity === "drop_fraction" && (legs.length < 2 || legs.some((leg) => !leg.length)))
      return null;
    return legs.filter((leg) => leg.length).reduce((sum, leg) => sum + Math.max(...leg), 0);
  }

  /** Return a number of a circuit's row. */
  row(circuit, quantity) {
    const key = `circuit:${circuit}#${quantity}`;
    if (!this.rows.has(key)) {
      const tables = this.tables.get(key);
      this.rows.set(key, tables ? this.number(tables, "value", null) : null);
    }
    return this.rows.get(key);
  }

  cell(tables, dims, value) {
    let place = 0;
    for (const [kind, number] of dims) {
      let size;
      let option;
      if (kind === "a") {
        size = this.sums.axes[number].options.length;
        option = this.option(number);
        if (option === null) throw new NotCovered(this.text(number));
      } else if (kind === "k") {
        size = VERDICTS.length;
        option = VERDICTS.indexOf(this.verdict(number));
      } else {
        const x = this.x(number);
        size = 2;
        option = x === null ? 0 : 1;
        if (kind === "s" && tables.cuts) {
          const { at, by } = tables.cuts;
          const along = by === "x" ? x : value;
          size = at.length + 2;
          option = x === null || along === null ? 0 : 1 + at.filter((end) => along > end).length;
        }
      }
      place = place * size + option;
    }
    return place;
  }

  /** Return the verdict of another check, empty where there is none. */
  verdict(key) {
    const found = this.tables.has(key) ? answer(this, this.tables.get(key)) : null;
    if (found?.isAsked) throw new NotCovered(key);
    return found?.verdict ?? "";
  }

  label(tables, part, value) {
    const table = tables[part];
    if (typeof table === "string") return table;
    const found = this.sums.words[table.all[this.cell(tables, table.dims, value)]];
    if (found === "?") throw new NotCovered(part);
    return found;
  }

  number(tables, part, value) {
    const table = tables[part];
    if (table === null || typeof table !== "object") return table ?? null;
    if (table.factors) {
      const found = table.factors.map((row) => row.a[this.cell(tables, row.dims, value)]);
      return found.includes(null) ? null : found.reduce((product, x) => product * x, 1) * table.scale;
    }
    const cell = this.cell(tables, table.dims, value);
    const a = table.a[cell];
    const x = table.line === undefined ? null : this.x(table.line);
    return a === null || x === null ? a : a + table.b[cell] * x;
  }
}

/** Return one text for one value, as the tables write it: 7 and 7.0 are the same, yes and no are words. */
function textOf(value) {
  return typeof value === "string" ? value : JSON.stringify(value);
}

/** Return one check with the values laid over; null where there is none, ``isAsked`` where nobody knows. */
function answer(reader, tables) {
  try {
    const value = reader.number(tables, "value", null);
    const sig = reader.label(tables, "sig", value);
    if (!sig) return null;
    const limit = reader.number(tables, "limit", value);
    const block = reader.number(tables, "block", value);
    const [kind, first, beyond, memory] = sig.split("|");
    const verdict =
      kind === "rule" ? banded(first === "1", beyond, memory === "1", value, limit, block) : first;
    const title = reader.label(tables, "title", value);
    const check = { verdict, value, limit, block, title, unit: reader.label(tables, "unit", value) };
    check.sentence = said(reader, tables, check, first === "1");
    return check;
  } catch (problem) {
    if (!(problem instanceof NotCovered)) throw problem;
    return { isAsked: true };
  }
}

function banded(atLeast, beyond, fromMemory, value, limit, block) {
  if (value === null || limit === null) return "not_enough_data";
  if (within(value, limit, atLeast)) return fromMemory ? "caution" : "pass";
  if (block === null) return beyond;
  return within(value, block, atLeast) ? "caution" : "block";
}

function within(value, limit, atLeast) {
  const slack = Math.max(1e-9 * Math.max(Math.abs(value), Math.abs(limit)), 1e-12);
  if (Math.abs(value - limit) <= slack) return true;
  return atLeast ? value > limit : value < limit;
}

// -- words ----------------------------------------------------------------------------------------------

function said(reader, tables, check, atLeast) {
  const table = tables.said?.[check.verdict];
  const cell = table?.dims.map((axis) => reader.option(axis)).join(",");
  const template = table === undefined ? undefined : reader.sums.words[table.by[cell]];
  if (template === undefined) return inGeneral(check, atLeast);
  return template.replace(/\{(\w+);([^;]+);(\d);(\d)\}/g, (_, name, scale, digits, trims) =>
    written(named(reader, check, name) * Number(scale), Number(digits), trims === "1"),
  );
}

function named(reader, check, name) {
  if (name[0] === "x") return reader.x(Number(name.slice(1)));
  return { v: check.value, l: check.limit, b: check.block, d: check.value - check.limit }[name];
}

function inGeneral(check, atLeast) {
  if (check.verdict === "not_enough_data") return `${check.title}: not enough data.`;
  const sense = atLeast ? "needs at least" : "limit";
  return `${check.title}: ${shown(check.value, check.unit)}, ${sense} ${shown(check.limit, check.unit)}.`;
}

function shown(value, unit) {
  if (unit === "fraction") return value === null ? "–" : `${written(value * 100, 2, true)}%`;
  return `${value === null ? "–" : written(value, 2, true)} ${unit}`.trimEnd();
}

// -- against the accepted sums --------------------------------------------------------------------------

/** Return how a check differs from the accepted one, null when nothing worth telling changed. */
function compared(sums, key, after) {
  if (after === null) return null;
  const before = sums.before[key] ?? null;
  if (after.isAsked) return unknown(sums, key, before?.title ?? key, ASK);
  const made = (kind, sentence) => ({
    key,
    kind,
    subject: sums.subjects[key] ?? "",
    title: after.title,
    verdict: after.verdict,
    value: after.value,
    limit: after.limit,
    unit: after.unit,
    sentence,
    before: before && { verdict: before.verdict, value: before.value },
  });
  if (before === null) return after.verdict === "pass" ? null : made("new", after.sentence);
  const rise = SEVERITY[after.verdict] - SEVERITY[before.verdict];
  const went = `${after.title} went from ${WORDS[before.verdict]} to ${WORDS[after.verdict]}.`;
  if (rise > 0) return made("crossed", `${went} ${after.sentence}`);
  if (rise < 0) return made("cleared", went);
  const change = changed(before.value, after.value);
  if (change === null || Math.abs(change) <= MOVED) return null;
  const from = before.value === null ? "–" : written(before.value, 2, true);
  const to = `${written(after.value, 2, true)} ${after.unit}`.trimEnd();
  return made("moved", `${after.title} moved by ${written(change * 100, 1, true)}%: ${from} → ${to}.`);
}

function changed(before, after) {
  if (before === null || after === null) return null;
  if (before === after) return 0;
  return before ? (after - before) / Math.abs(before) : 1;
}

function asked(sums, ask) {
  return unknown(sums, ask.key, ask.title, ASK);
}

function unknown(sums, key, title, sentence) {
  return {
    key,
    kind: "unknown",
    subject: sums.subjects[key] ?? "",
    title,
    verdict: "not_enough_data",
    value: null,
    limit: null,
    unit: "",
    sentence: sentence === ASK ? `${title}: ${ASK}` : sentence,
    before: sums.before[key] ?? null,
    step_names: [],
  };
}

function worstFirst(one, other) {
  const rank = SEVERITY[other.verdict] - SEVERITY[one.verdict];
  if (rank) return rank;
  const [first, second] = [`${one.kind}|${one.key}`, `${other.kind}|${other.key}`];
  return first < second ? -1 : Number(first > second);
}
