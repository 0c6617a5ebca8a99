// Which recorded values change the sums, by the names the sums know, and which steps they come from.

import { valueAt } from "../steps.js";

// Returns the values as built; disputed and missing ones stay as planned.
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

// Returns the feet of all panels once one was counted: those not counted yet as planned.
function feetFitted(job, state) {
  const isCounted = [...fed(job, state)].some(({ field }) => field.feeds === "roof.feet");
  if (!isCounted) return null;
  let total = 0;
  for (const [name, planned] of Object.entries(job.facts.panel ?? {})) {
    const value = valueAt(job, state, "feet", "feet", `panel:${name}`);
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

// Returns which step feeds which of these names.
export function feeding(job, state) {
  return [...fed(job, state)].map(({ step, field }) => ({ step, feeds: field.feeds }));
}

// Returns the steps whose values did it, by pk: those that feed this check, else every one that feeds.
export function stepsFor(changedBy, names, subject) {
  const [kind, name = ""] = split(subject);
  const prefix = (changedBy[kind] ?? "").replace("{name}", name);
  const mine = names.filter((each) => each.feeds.startsWith(prefix));
  return [...new Set((mine.length ? mine : names).map((each) => each.step.pk))];
}

function split(subject) {
  const at = subject.indexOf(":");
  return at < 0 ? [subject] : [subject.slice(0, at), subject.slice(at + 1)];
}
