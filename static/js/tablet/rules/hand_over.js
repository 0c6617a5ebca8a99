// What the customer is shown and signs for: the same rows as checklists/rules/hand_over.py makes of the same
// events. The signature is bound to the SHA-256 of exactly this text.
import { sha256 } from "../hash.js";
import { isInk } from "./ink.js";

const FORM = "hand-over 1";

// Every value and note that stands, in the order of the work: code, title, label, value, unit, id.
export function recordedRows(job, states) {
  return job.steps.filter((step) => step.is_in_scope).flatMap((step) => [...rows(step, states.get(step.pk))]);
}

function* rows(step, state) {
  if (!state) return;
  for (const name of Object.keys(state.fields).sort(byCodePoint)) {
    const spec = specNamed(step.fields, name);
    for (const event of state.fields[name].standing)
      yield [step.code, step.title, spec?.label ?? name, bits(event), spec?.unit ?? "", event.id];
  }
  for (const event of state.notes) yield [step.code, step.title, "Note", bits(event), "", event.id];
}

const byCodePoint = (one, other) => (one < other ? -1 : one > other ? 1 : 0);

function specNamed(specs, name) {
  for (const spec of specs) {
    if (spec.name === name && !spec.repeat) return spec;
    if (spec.repeat === "caution" && name.startsWith(`${spec.name}_`)) {
      const words = name.slice(spec.name.length + 1).replaceAll("_", " ");
      return { ...spec, label: spec.label.replaceAll("{n}", words) };
    }
    const [, prefix, number] = /^(.*)_(\d+)$/.exec(name) ?? [];
    if (spec.repeat && prefix === spec.name && Number(number) >= 1 && Number(number) <= 60)
      return { ...spec, label: spec.label.replace("{n}", Number(number)) };
  }
  return undefined;
}

// One form only for each value: a number as the sixteen digits of its double.
export function bits({ value, photo }) {
  if (photo) return "photo";
  if (value === true || value === false) return String(value);
  if (typeof value === "number") {
    const view = new DataView(new ArrayBuffer(8));
    view.setFloat64(0, value);
    return `f:${[...new Uint8Array(view.buffer)].map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;
  }
  if (isInk(value)) return `i:${value.name}\n${value.ink}`;
  return value === null || value === undefined ? "" : `s:${value}`;
}

// ``cautions`` stand with the texts: they were shown, and the signature holds for them too.
export function contentOf(view, stillOpen, cautions) {
  const { job, design_number: design, texts } = view.job;
  const head = [job.number, job.customer, job.vehicle, job.plate, String(design)];
  return JSON.stringify([
    FORM,
    head,
    recordedRows(view.job, view.states),
    stillOpen,
    [...texts.care, ...texts.cautions, ...texts.warranty, ...cautions.map((text) => `Caution: ${text}`)],
  ]);
}

export async function hashOf(content) {
  return sha256(new TextEncoder().encode(content));
}
