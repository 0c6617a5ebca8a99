// Reads the engine's answers to reported values from tables made beforehand (checklists/tables/). No formula
// of the trade stands here: what the tables do not cover is said to be unknown, never passed.
import { sentenceOf } from "./check_words.js";
import { Settings, textOf } from "./settings.js";

// the order in which tables lean on them
const VERDICTS = ["", "pass", "caution", "not_enough_data", "block"];

export class NotCovered extends Error {}

const indexed = new WeakMap();

function tablesByKey(sums) {
  if (!indexed.has(sums)) indexed.set(sums, new Map(sums.checks.map((tables) => [tables.key, tables])));
  return indexed.get(sums);
}

export class Reader {
  constructor(sums, values) {
    Object.assign(this, { sums, values, rows: new Map(), tables: tablesByKey(sums) });
    this.settings = new Settings(sums, values, (key) => this.meets(key));
  }

  // Returns one check with the values laid over; null where there is none, ``isAsked`` where nobody knows.
  check(tables) {
    try {
      return this.covered(tables);
    } catch (problem) {
      if (!(problem instanceof NotCovered)) throw problem;
      return { isAsked: true };
    }
  }

  covered(tables) {
    const value = this.number(tables, "value", null);
    const sig = this.label(tables, "sig", value);
    if (!sig) return null;
    const [kind, first, beyond, memory, atLimit] = sig.split("|");
    // whether there is a check, and enough to judge it by, hangs on nothing held
    if (kind === "rule") this.hold(tables.held ?? {});
    const limit = this.number(tables, "limit", value);
    const block = this.number(tables, "block", value);
    const atLeast = first === "1";
    const bounds = { atLeast, beyond, fromMemory: memory === "1", block, atLimit: atLimit ?? "pass" };
    const verdict = kind === "rule" ? banded(bounds, value, limit) : first;
    const title = this.label(tables, "title", value);
    const check = { verdict, value, limit, block, title, unit: this.label(tables, "unit", value) };
    const isTight = kind === "rule" && verdict === bounds.atLimit && verdict !== "pass" && at(value, limit);
    const said = isTight ? { ...check, verdict: bounds.fromMemory ? "caution" : "pass" } : check;
    check.sentence =
      sentenceOf(this, tables, said, atLeast) + (isTight ? " Exactly at the limit, no room." : "");
    return check;
  }

  // Refuses where something was reported otherwise than the table was made for.
  hold(planned) {
    for (const [name, value] of Object.entries(planned)) {
      const reported = this.values[name] ?? null;
      if (reported !== null && textOf(reported) !== textOf(value)) throw new NotCovered(name);
    }
  }

  // Returns a number of a circuit's row.
  row(circuit, quantity) {
    const key = `circuit:${circuit}#${quantity}`;
    if (!this.rows.has(key)) {
      const tables = this.tables.get(key);
      this.rows.set(key, tables ? this.number(tables, "value", null) : null);
    }
    return this.rows.get(key);
  }

  // --- what a line of the tables reads ---

  // Returns what a line reads: as reported, or a drop added up from its circuits; null when not known.
  x(number) {
    const line = this.sums.lines[number];
    if (line.legs) return this.added(line);
    const names = line.chains ? (line.chains[this.settings.plan()] ?? []) : [line.name];
    const value = this.values[names.find((name) => (this.values[name] ?? null) !== null)] ?? null;
    if (value !== null && !(value >= line.low && value <= line.high)) throw new NotCovered(line.name);
    return value;
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

  // --- cells of a table ---

  cell(tables, dims, value) {
    let place = 0;
    for (const dim of dims) {
      const { size, option } = this.dimension(tables, dim, value);
      place = place * size + option;
    }
    return place;
  }

  // Returns how many places a dimension has, and which of them holds: of a switch, of another check's
  // verdict, or of a line that is known or not, cut where the answer bends.
  dimension(tables, [kind, number], value) {
    if (kind === "a") {
      const option = this.settings.option(number);
      if (option === null) throw new NotCovered(this.settings.text(number));
      return { size: this.sums.axes[number].options.length, option };
    }
    if (kind === "k") return { size: VERDICTS.length, option: VERDICTS.indexOf(this.verdict(number)) };
    const x = this.x(number);
    if (kind !== "s" || !tables.cuts) return { size: 2, option: x === null ? 0 : 1 };
    const { at, by } = tables.cuts;
    const along = by === "x" ? x : value;
    const isKnown = x !== null && along !== null;
    return { size: at.length + 2, option: isKnown ? 1 + at.filter((end) => along > end).length : 0 };
  }

  // Returns the verdict of another check, empty where there is none.
  verdict(key) {
    const found = this.tables.has(key) ? this.check(this.tables.get(key)) : null;
    if (found?.isAsked) throw new NotCovered(key);
    return found?.verdict ?? "";
  }

  // Returns whether another check's value reaches its limit; null where nobody knows, false without a check.
  meets(key) {
    const found = this.tables.has(key) ? this.check(this.tables.get(key)) : { isAsked: true };
    if (found?.isAsked) return null;
    if ((found?.value ?? null) === null || (found.limit ?? null) === null) return false;
    return found.value >= found.limit || at(found.value, found.limit);
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

function banded({ atLeast, beyond, fromMemory, block, atLimit }, value, limit) {
  if (value === null || limit === null) return "not_enough_data";
  if (within(value, limit, atLeast)) {
    const kept = fromMemory ? "caution" : "pass";
    return at(value, limit) && VERDICTS.indexOf(atLimit) > VERDICTS.indexOf(kept) ? atLimit : kept;
  }
  if (block === null) return beyond;
  return within(value, block, atLeast) ? "caution" : "block";
}

function within(value, limit, atLeast) {
  if (at(value, limit)) return true;
  return atLeast ? value > limit : value < limit;
}

// Whether a value is exactly the limit, to 1e-9 of it.
function at(value, limit) {
  if (value === null || limit === null) return false;
  const slack = Math.max(1e-9 * Math.max(Math.abs(value), Math.abs(limit)), 1e-12);
  return Math.abs(value - limit) <= slack;
}
