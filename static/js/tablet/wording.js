// A recorded value in words, in the shop's units.
import { inkWords, isInk } from "./rules/ink.js";
import { isList, listWords } from "./rules/lists.js";
import { shown } from "./units.js";

const PLAIN = { photo: "photo", done: "done", no: "no" };

// `words` are those of the language it is shown in.
export function valueWords(job, spec, { value, photo, unit }, words = PLAIN) {
  if (photo) return words.photo;
  if (spec && isList(spec)) return listWords(spec, value);
  if (spec?.choices?.length) return spec.choices.find(([key]) => key === value)?.[1] ?? String(value);
  if (isInk(value)) return inkWords(value);
  if (typeof value === "boolean") return value ? words.done : words.no;
  return typeof value === "number" ? shown(job, value, spec?.unit ?? unit) : String(value ?? "");
}
