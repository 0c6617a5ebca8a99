// What a step asks for now: fields that repeat per foot written out for the feet that are there.
import { fieldOf } from "./reducer.js";

const value = (job, states, code, name, subject = "") => {
  const step = job.steps.find((one) => one.code === code && one.subject === subject);
  return step ? fieldOf(states, step, name).value : null;
};

// Feet, screws and holes as built; as planned where nothing was counted yet.
export function fitted(job, states) {
  const count = (found, planned) => (found === null || found === undefined ? planned ?? 0 : Math.trunc(found));
  const feet = {};
  for (const [name, panel] of Object.entries(job.facts.panel ?? {})) {
    feet[name] = count(value(job, states, "D2", "feet", `panel:${name}`), panel.feet);
  }
  return {
    feet,
    fasteners_per_foot: count(value(job, states, "D4", "fasteners_per_foot"), job.facts.fasteners_per_foot),
    gland_screws: count(value(job, states, "E7", "gland_screws"), job.facts.gland_screws),
  };
}

export function fieldsOf(job, states, step) {
  if (!step.fields.some((spec) => spec.repeat || spec.count_from) && !["D3", "D7"].includes(step.code)) return step.fields.map(filled);
  const built = fitted(job, states);
  const feet = built.feet[step.subject.split(":")[1]] ?? 0;
  const tick = { D3: true, D7: true }[step.code] ? (step.subject === "gland:box" ? built.gland_screws : built.fasteners_per_foot) : null;
  return step.fields.flatMap((spec) => {
    if (spec.repeat === "feet") return Array.from({ length: feet }, (_, place) => foot(spec, place + 1, tick));
    return [filled(spec.count_from === "feet" ? { ...spec, count: Math.max(1, feet) } : spec)];
  });
}

const foot = (spec, n, tick) =>
  filled({ ...spec, name: `${spec.name}_${n}`, label: spec.label.replace("{n}", n), repeat: "", tick: tick ?? spec.tick });

const filled = (spec) => ({ unit: "", required: true, count: 1, choices: [], accept: [], on_fail: "hold", ...spec });
