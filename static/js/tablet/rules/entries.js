// What one recorded value may look like before it becomes an event: the same limits as
// checklists/rules/entries.py, so that nothing is written down here that the server would have to set aside.
import { shown } from "../units.js";
import { inkProblem } from "./ink.js";
import { isList, listProblem } from "./lists.js";

// biome-ignore lint/suspicious/noControlCharactersInRegex: these characters are what is taken out
const CONTROL = /[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]/g;
const TEXT_LENGTH = 400;
const SERIAL_LENGTH = 60;
export const NOTE_LENGTH = 2000;

// { value } or { error }
export function checked(job, spec, value) {
  if (spec.kind === "number") return number(job, spec, value);
  if (spec.kind === "choice")
    return spec.choices.some(([key]) => key === value)
      ? { value }
      : { error: `${spec.label}: none of the choices.` };
  if (spec.kind === "tick") return { value: true };
  if (isList(spec)) {
    const problem = listProblem(spec, value);
    return problem ? { error: problem } : { value };
  }
  if (spec.kind === "signature") {
    const problem = inkProblem(value);
    return problem ? { error: `${spec.label}: ${problem}` } : { value };
  }
  return text(spec, value);
}

function number(job, spec, value) {
  if (typeof value !== "number" || !Number.isFinite(value))
    return { error: `${spec.label}: a number is needed.` };
  if (spec.whole && value !== Math.trunc(value)) return { error: `${spec.label}: a whole number is needed.` };
  if ((spec.min ?? null) !== null && value < spec.min) return { error: limits(job, spec) };
  if ((spec.max ?? null) !== null && value > spec.max) return { error: limits(job, spec) };
  return { value };
}

function limits(job, spec) {
  const words = (limit) => ((limit ?? null) === null ? "…" : shown(job, limit, spec.unit));
  return `${spec.label} must be ${words(spec.min)} to ${words(spec.max)}.`;
}

function text(spec, typed) {
  const value = String(typed ?? "")
    .replace(CONTROL, "")
    .trim();
  const longest =
    spec.kind === "serial"
      ? Math.min(spec.max_length ?? TEXT_LENGTH, SERIAL_LENGTH)
      : (spec.max_length ?? TEXT_LENGTH);
  if (!value) return { error: `${spec.label}: nothing was written.` };
  if ([...value].length > longest)
    return { error: `${spec.label}: at most ${longest} characters, got ${[...value].length}.` };
  if (spec.format === "date" || spec.format === "month") return day(spec, value);
  return { value };
}

function day(spec, value) {
  const shape = spec.format === "date" ? /^\d{4}-\d\d-\d\d$/ : /^\d{4}-\d\d$/;
  const words = spec.format === "date" ? "a date like 2027-03-31" : "a month like 2027-03";
  const found = new Date(`${value}${spec.format === "month" ? "-01" : ""}T00:00:00Z`);
  if (!shape.test(value) || Number.isNaN(found.getTime()) || !found.toISOString().startsWith(value)) {
    return { error: `${spec.label}: ${words} is needed.` };
  }
  const year = Number(value.slice(0, 4));
  return year >= 1990 && year <= 2100
    ? { value }
    : { error: `${spec.label}: the year must be 1990 to 2100.` };
}
