// Feet, screws and holes as they were built; the same as `fitted` of checklists/rules/install.py.

import { once, stepAt, valueAt } from "../steps.js";

const count = (value, planned) => (value === null ? planned : Math.trunc(value));
const sum = (numbers) => numbers.reduce((total, number) => total + number, 0);

// Return the feet, screws and holes as built; planned where nothing was counted yet.
export const fitted = once((job, state) => {
  const panels = job.facts.panel ?? {};
  const feet = {};
  for (const [name, planned] of Object.entries(panels)) {
    feet[name] = count(valueAt(job, state, "feet", "feet", `panel:${name}`), planned.feet);
  }
  const fastenersPerFoot = count(
    valueAt(job, state, "seal_under", "fasteners_per_foot"),
    job.facts.fasteners_per_foot ?? 0,
  );
  const drilled = drilledHoles(job, state, Object.keys(panels));
  return {
    feet,
    fastenersPerFoot,
    drilled,
    glandScrews: count(
      valueAt(job, state, "seal_under", "gland_screws", "gland:box"),
      job.facts.gland_screws ?? 0,
    ),
    cableHoles: count(valueAt(job, state, "cable_entry", "cable_holes"), job.facts.cable_holes ?? 0),
    unused: sum(
      Object.entries(drilled).map(([name, holes]) =>
        Math.max(0, holes - (feet[name] ?? 0) * fastenersPerFoot),
      ),
    ),
  };
});

// Return the holes known to have been drilled: as counted, and no fewer than were ever sealed.
function drilledHoles(job, state, panels) {
  const found = {};
  for (const name of panels) {
    const counted = valueAt(job, state, "feet", "holes", `panel:${name}`);
    const step = stepAt(job, "seal_under", `panel:${name}`);
    const fields = (step && state.get(step.pk)?.fields) ?? {};
    const sealed = sum(
      Object.entries(fields).map(([key, own]) =>
        key.startsWith("foot_") && own.value ? Math.trunc(own.value) : 0,
      ),
    );
    if (counted !== null || sealed) found[name] = Math.max(Math.trunc(counted ?? 0), sealed);
  }
  return found;
}
