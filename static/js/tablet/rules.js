// What is known of a step without the server. Until a value is judged by the rules that come with the job, it is
// only "recorded": nothing here ever says more than it knows.
import { judge, valuesOf } from "./as_built.js";
import { NOTHING } from "./reducer.js";

const isBlank = (value) => value === null || value === undefined || value === "";

// { mark, isDone, fields: { name: { mark, sentence, low, high, expected } } }
export function judged(view, step) {
  const state = view.state(step);
  const fields = {};
  for (const spec of view.fields(step)) fields[spec.name] = field(spec, state.fields[spec.name] ?? NOTHING);
  const marks = Object.values(fields).map((found) => found.mark);
  const mark = ["conflict", "fail", "missing", "caution"].find((one) => marks.includes(one)) ?? "ok";
  return { mark, isDone: !["conflict", "fail", "missing"].includes(mark), fields };
}

function field(spec, found) {
  const base = { low: spec.low ?? null, high: spec.high ?? null, expected: spec.expected ?? null, sentence: "" };
  if (spec.kind === "photo") {
    const missing = spec.count - found.photos.length;
    return { ...base, mark: missing > 0 && spec.required ? "missing" : found.photos.length ? "ok" : "blank" };
  }
  if (found.isConflict) return { ...base, mark: "conflict", sentence: "Recorded twice and different. Which one is right?" };
  if (isBlank(found.value)) return { ...base, mark: spec.required ? "missing" : "blank" };
  const isOut = spec.kind === "number" && ((base.low !== null && found.value < base.low) || (base.high !== null && found.value > base.high));
  const isWrong = spec.kind === "choice" && spec.accept.length && !spec.accept.includes(found.value);
  if (isOut || isWrong) return { ...base, mark: spec.on_fail === "hold" ? "fail" : "caution", sentence: spec.fail_says ?? "Outside the band." };
  return { ...base, mark: "ok" };
}

export function locksOf() {
  return {};
}

// What is not as planned. With the job's tables it is worked out here and now, from the values that stand here; what
// the owner let stand stays so while it is the same. Without them only what the office said is known.
export function deviationsOf(view) {
  const told = view.job.deviations.filter((one) => one.state !== "resolved");
  if (!view.job.sums) {
    return told.filter((one) => one.state === "open" && one.verdict !== "pass").map((one) => ({ ...one, steps: one.step ? [one.step] : [] }));
  }
  const found = judge(view.job.sums, valuesOf(view.job, view.states), view.job, view.states);
  const accepted = (one) => told.some((each) => each.state === "accepted" && each.key === one.key && each.verdict === one.verdict && isNear(each.value, one.value));
  return found.filter((one) => one.kind !== "cleared" && one.verdict !== "pass" && !accepted(one)).map((one) => ({ ...one, steps: one.step_names }));
}

const isNear = (one, other) => one === other || (one !== null && other !== null && Math.abs(one - other) <= 1e-6 * Math.max(1, Math.abs(one)));

export function sealsOf() {
  return null;
}

// What keeps the job from being handed over, in words.
export function openItems(view) {
  return view.inScope.filter((step) => step.code !== "M7" && !view.mark(step).isDone).map((step) => `${step.code} ${step.title}`);
}
