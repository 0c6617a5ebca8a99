// Whether what stands at a field is there, in its band, and undisputed; the same as
// checklists/rules/judging.py and checklists/rules/fields.py, and a test holds the two together. `job` is
// what was downloaded, `state` a Map of step pk → what stands there.

import { valueAt } from "../steps.js";
import { g, withUnit } from "../words.js";
import { counted, isExcused, whose } from "./counted.js";
import { specsOf } from "./fields.js";
import { inkWords, isInk } from "./ink.js";
import { isList, keysOf, listWords, unticked } from "./lists.js";
import { plain } from "./plain.js";
import { judgedReadings } from "./readings.js";
import { canonical } from "./reducer.js";

export const OK = "ok";
const OPEN = ["conflict", "fail", "missing"];
const WORST = [...OPEN, "caution", "ok", "blank"];
const SLACK = 1e-9; // a value this close to its limit keeps to it [-]
const NOTHING = { standing: [], values: [], value: null, photos: [], isConflict: false };

export const isOpen = (mark) => OPEN.includes(mark);
export const fieldOf = (own, name) => own?.fields?.[name] ?? NOTHING;
const isBlank = (value) => value === null || value === undefined || value === "";
const isNumber = (value) => typeof value === "number";

// Return { mark, isDone, isBegun, sentences, fields: { name: { mark, sentence, low, high, expected,
// suggestsChangeOrder } } } of one step. ctx: { job, state, whole }; `whole` also holds what was recorded on
// earlier revisions of the plan.
export function judgeStep(step, own, ctx) {
  const judged = judgedReadings(step, ctx);
  const outdated = outdatedAt(step, own, ctx);
  const licensed = step.licensed ? licensedPerson(ctx) : null;
  const fields = {};
  for (const spec of specsOf(ctx.job, ctx.state, step)) {
    const found = judgeField(spec, own, judged[spec.name] ?? null);
    if (found.mark === "missing" && spec.name in outdated) {
      const revision = `done on revision ${outdated[spec.name]}`;
      found.sentence = `${spec.label}: ${revision}; the plan has changed, look again`;
    }
    fields[spec.name] = counted(step, spec, own, found, licensed);
  }
  const marks = Object.values(fields);
  let mark = WORST.find((one) => marks.some((found) => found.mark === one)) ?? OK;
  if (mark === "blank") mark = OK;
  return {
    mark,
    isDone: !isOpen(mark),
    isBegun: Object.keys(fields).some((name) => fieldOf(own, name).standing.length),
    sentences: marks.map((found) => found.sentence).filter(Boolean),
    fields,
  };
}

// Return the name of the licensed person, and whether a lead records for them.
function licensedPerson(ctx) {
  const at = (name) => valueAt(ctx.job, ctx.state, "licensed_person", name);
  return { name: at("licensed_name") ?? "", byLead: at("confirmed") === "lead" };
}

// Return the fields where only a value of an earlier revision stands, with that revision.
function outdatedAt(step, own, ctx) {
  const before = ctx.whole?.get(step.pk)?.fields;
  if (!step.since_design || !before) return {};
  const found = {};
  for (const [name, field] of Object.entries(before)) {
    if (!field.standing.length || fieldOf(own, name).standing.length) continue;
    found[name] = Math.max(...field.standing.map((event) => event.design_number ?? 0));
  }
  return found;
}

export function judgeField(spec, state, judged) {
  const own = fieldOf(state, spec.name);
  const [low, high] = band(spec, state, judged);
  const expected = judged?.expected ?? spec.expected ?? null;
  const mark = (kind, sentence = "", suggestsChangeOrder = false) => ({
    mark: kind,
    sentence,
    low,
    high,
    expected,
    suggestsChangeOrder,
  });
  if (spec.kind === "photo") return photoMark(spec, own, state, mark);
  if (own.isConflict) return mark("conflict", conflictWords(spec, own));
  if (isBlank(own.value) || (spec.kind === "tick" && own.value !== true)) {
    return isRequired(spec, state) ? mark("missing", absentWords(spec)) : mark("blank");
  }
  const left = spec.kind === "lines" ? unticked(spec, own.value) : null;
  if (left !== null && isRequired(spec, state)) return mark("missing", untickedWords(spec, left));
  const words = complaint(spec, state, low, high, judged);
  if (!words) {
    const quiet = judged?.mark === "caution" ? judged.sentence : shortCount(spec, own.value);
    return quiet ? mark("caution", `${spec.label}: ${quiet}`) : mark(OK);
  }
  if (spec.excused_by && isExcused(spec, state)) return mark("caution", words);
  const suggests = ["change_order", "hold_order"].includes(spec.on_fail);
  return mark(["hold", "hold_order"].includes(spec.on_fail) ? "fail" : "caution", words, suggests);
}

const untickedWords = (spec, text) => `${spec.label}: “${text}” is not ticked`;
const absentWords = (spec) =>
  spec.kind === "lines" && spec.lines?.length
    ? untickedWords(spec, spec.lines[0][1])
    : `${spec.label}: missing`;

function photoMark(spec, own, state, mark) {
  const have = own.photos.length;
  if (have >= spec.count || (!isRequired(spec, state) && !have)) return mark(have ? OK : "blank");
  const missing = spec.count - have;
  return mark("missing", `${spec.label}: ${missing} ${missing === 1 ? "photo" : "photos"} missing`);
}

export function photoWords(spec, have) {
  if (have > spec.count) return `${have} photos, ${spec.count} asked for`;
  const ifAny = spec.required || have ? "" : ", if any";
  return `${have} of ${spec.count} ${spec.count === 1 ? "photo" : "photos"}${ifAny}`;
}

function shortCount(spec, value) {
  return isBlank(spec.tick) || value === spec.tick ? "" : `${g(value)} of ${g(spec.tick)}`;
}

function isRequired(spec, state) {
  if (!spec.required_if) return spec.required;
  const other = fieldOf(state, spec.required_if.field).value;
  const answers = [spec.required_if.is].flat();
  return (
    answers.includes(other) ||
    (typeof other === "string" && keysOf(other).some((key) => answers.includes(key)))
  );
}

// Return the acceptance band [low, high], as far as it is known yet.
function band(spec, state, judged) {
  let low = spec.low ?? null;
  let high = spec.high ?? null;
  if (judged && (!isBlank(judged.low) || !isBlank(judged.high)))
    [low, high] = [judged.low ?? null, judged.high ?? null];
  if (spec.low_from) low = fromOther(spec.low_from, state, low);
  if (spec.high_from) high = fromOther(spec.high_from, state, high);
  if (spec.around) {
    const middle = fieldOf(state, spec.around.field).value;
    if (isNumber(middle)) {
      const width = middle * spec.around.tolerance_fraction;
      [low, high] = [middle - width, middle + width];
    }
  }
  return [low, high];
}

function fromOther(rule, state, otherwise) {
  let { value } = fieldOf(state, rule.field);
  if (rule.map) value = rule.map[value] ?? otherwise;
  return isNumber(value) ? value : otherwise;
}

// Return what is wrong with the value that stands; empty when nothing is.
function complaint(spec, state, low, high, judged) {
  const own = fieldOf(state, spec.name);
  const { value } = own;
  const told = spec.fail_says || "";
  if (judged && ["fail", "missing"].includes(judged.mark)) return `${spec.label}: ${judged.sentence || told}`;
  if (spec.kind === "number" && !inBand(value, low, high, spec.exclusive_high)) {
    return `${spec.label}: ${told || "outside the band."}`;
  }
  const isChosen = spec.kind === "choice" || spec.kind === "several";
  if (isChosen && spec.accept?.length && !keysOf(value).every((key) => spec.accept.includes(key))) {
    return `${spec.label}: ${told || choiceLabel(spec, value)}`;
  }
  if (spec.matches && !matches(spec, state, value))
    return `${spec.label}: ${told || "does not match the job."}`;
  if (spec.not_past && isPast(own, value)) return `${spec.label}: ${told}`;
  const problem = whose(spec, state) || spec.undecided;
  return problem ? `${spec.label}: ${problem}` : "";
}

export function inBand(value, low, high, exclusiveHigh = false) {
  if (!isNumber(value) || !Number.isFinite(value)) return false;
  const slack = SLACK * Math.max(1, Math.abs(value));
  if (low !== null && value < low - slack) return false;
  if (high === null) return true;
  return exclusiveHigh ? value < high - slack : value <= high + slack;
}

// Whether a value that fails is the one that was let pass, or lies closer to its band.
export function isNoWorse({ low, high }, value, was) {
  if (canonical(value) === canonical(was)) return true;
  if (!isNumber(value) || !isNumber(was)) return false;
  if (low !== null && was < low && value < low) return value > was;
  return high !== null && was >= high && high <= value && value < was;
}

function matches(spec, state, value) {
  const other = spec.matches === "expected" ? spec.expected : fieldOf(state, spec.matches).value;
  return isBlank(other) || plain(value) === plain(other);
}

// A use-before month before the month in which it was recorded; until the office has it, the tablet's own
// clock.
function isPast(own, value) {
  const times = own.standing.map((event) => event.received_at ?? event.at).filter(Boolean);
  if (!times.length) return false;
  const recorded = new Date(Math.max(...times.map((time) => new Date(time).getTime())));
  return String(value) < recorded.toISOString().slice(0, 7);
}

export function conflictWords(spec, own, show = showValue) {
  const told = new Map();
  for (const event of own.standing) {
    const value = show(spec, event.value);
    told.set(value, [...(told.get(value) ?? []), event.by_name ?? ""]);
  }
  const parts = [...told].map(([value, names]) => `${value} (${[...new Set(names)].sort().join(", ")})`);
  return `${spec.label}: recorded twice and different: ${parts.join(" and ")}. Which one is right?`;
}

export function showValue(spec, value) {
  if (spec.kind === "choice" || isList(spec)) return choiceLabel(spec, value);
  if (spec.kind === "tick") return value ? "yes" : "no";
  if (isNumber(value)) return withUnit(g(value), spec.unit ?? "");
  return isInk(value) ? inkWords(value) : String(value);
}

function choiceLabel(spec, value) {
  if (isList(spec)) return listWords(spec, value);
  return spec.choices?.find(([key]) => key === String(value))?.[1] ?? String(value);
}
