// The fields of a step as they are asked now: one per foot as fitted, one per caution of a circuit;
// the same as checklists/rules/fields.py.
import { circuitCautions } from "./cautions.js";
import { fitted } from "./install.js";

export function specsOf(job, state, step) {
  if (step.fields.some((spec) => spec.repeat === CAUTION))
    return step.fields.flatMap((spec) => perCaution(whole(spec), job, state));
  if (!step.fields.some(dependsOnFeet)) return step.fields.map(whole);
  const built = fitted(job, state);
  const feet = built.feet[nameOf(step)] ?? null;
  const tick = ["seal_under", "seal_over"].includes(step.role) ? holesEach(step, built) : null;
  return step.fields.flatMap((spec) => expanded(whole(spec), feet, tick));
}

const CAUTION = "caution";

// One field for each check of a circuit that is a caution or lacks data.
function perCaution(spec, job, state) {
  if (spec.repeat !== CAUTION) return [spec];
  return circuitCautions(job, state).map(({ name, words }) => ({
    ...spec,
    name: `${spec.name}_${name}`,
    label: spec.label.replaceAll("{n}", words),
    repeat: "",
  }));
}

const dependsOnFeet = (spec) =>
  spec.repeat === "feet" || spec.count_from === "feet" || spec.tick !== undefined;

const holesEach = (step, built) =>
  step.subject === "gland:box" ? built.glandScrews : built.fastenersPerFoot;

function expanded(spec, feet, tick) {
  if (spec.repeat === "feet") {
    return Array.from({ length: feet ?? 0 }, (_, at) => ({
      ...spec,
      name: `${spec.name}_${at + 1}`,
      label: spec.label.replaceAll("{n}", String(at + 1)),
      repeat: "",
      tick: tick ?? spec.tick,
    }));
  }
  return [spec.count_from === "feet" ? { ...spec, count: Math.max(1, feet ?? 0) } : spec];
}

// A field with what is left out of it when it is stored.
const completed = new WeakMap();
function whole(spec) {
  if (!completed.has(spec)) {
    const { required = true, count = 1, on_fail = "hold" } = spec;
    completed.set(spec, { ...spec, required, count, on_fail });
  }
  return completed.get(spec);
}

const nameOf = (step) => step.subject.slice(step.subject.indexOf(":") + 1 || step.subject.length);
