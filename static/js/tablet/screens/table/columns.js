// The columns of a table and what stands in its cells: one for each field of its rows, one for all feet.
import { NOTHING } from "../../rules/reducer.js";
import { isExtra } from "../not_here.js";

// Returns [{ name, label, isMany }] over all rows, in the order of the fields.
export function columnsOf(rows) {
  const found = new Map();
  for (const step of rows)
    for (const spec of step.fields)
      if (!isExtra(spec) && !found.has(spec.name)) found.set(spec.name, column(spec));
  return [...found.values()];
}

const column = ({ name, label, repeat, kind }) => ({
  name,
  kind,
  label: repeat ? ofAll(label) : label,
  isMany: Boolean(repeat),
});

// "Foot {n}: holes sealed" → "Feet: holes sealed"
const ofAll = (label) =>
  label.replace(/\bfoot \{n\}/i, (word) => (word.startsWith("F") ? "Feet" : "feet")).replace(/\s*\{n\}/, "");

// Returns every cell of a row: { view, step, spec, column, found, mark }, of all feet one each.
export function cellsOf(view, step, columns, canRecord) {
  const specs = view.fields(step).filter((spec) => !isExtra(spec));
  return columns.flatMap((one) =>
    specs
      .filter((spec) => (one.isMany ? isFootOf(one, spec) : spec.name === one.name))
      .map((spec) => ({ view, step, spec, canRecord, column: one, ...standing(view, step, spec) })),
  );
}

const isFootOf = (column, spec) =>
  spec.name.startsWith(`${column.name}_`) && /^\d+$/.test(spec.name.slice(column.name.length + 1));

export const standing = (view, step, spec) => ({
  found: view.state(step).fields[spec.name] ?? NOTHING,
  mark: view.mark(step).fields[spec.name] ?? { mark: "missing", sentence: "" },
});

export const isEmpty = (draft, at) =>
  !at.found.standing.length && !at.found.isConflict && !draft.has(at.step, at.spec);

// Nothing planned can stand for what a person does, looks at, scans or signs.
const BY_HAND = ["photo", "serial", "signature", "several", "tick", "lines"];

// Returns what "as planned" writes into a cell; null where nothing is planned or a meter has to say it.
export function planned({ spec, mark }) {
  if (spec.measured || BY_HAND.includes(spec.kind)) return null;
  if ((spec.tick ?? null) !== null) return spec.whole ? Math.trunc(spec.tick) : spec.tick;
  const expected = mark.expected ?? spec.expected ?? null;
  if (expected !== null && expected !== "") return fits(spec, expected) ? expected : null;
  return spec.kind === "choice" && spec.accept?.length === 1 ? spec.accept[0] : null;
}

const fits = (spec, value) =>
  spec.kind === "choice"
    ? spec.choices.some(([key]) => key === value)
    : spec.kind === "number"
      ? typeof value === "number"
      : true;
