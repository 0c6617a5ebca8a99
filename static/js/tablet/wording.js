// A recorded value in words, in the shop's units.
import { shown } from "./units.js";

export function valueWords(job, spec, { value, photo, unit }) {
  if (photo) return "photo";
  if (spec?.choices?.length) return spec.choices.find(([key]) => key === value)?.[1] ?? String(value);
  if (typeof value === "boolean") return value ? "done" : "no";
  return typeof value === "number" ? shown(job, value, spec?.unit ?? unit) : String(value ?? "");
}
