// A field with words: a serial number, a name, a date or a month.
import { h, said } from "../../dom.js";
import { gettext } from "../../language.js";
import { checked } from "../../rules/entries.js";
import { scanButton } from "../../scan/scanner.js";
import { expectedLine } from "./expected.js";
import { remembered } from "./remembered.js";
import { fieldName, keyOf, save, standing } from "./saving.js";

export function text(at) {
  const { spec, canRecord } = at;
  const error = h("p", { class: "field-says", role: "alert" });
  const keep = (typed, button) => {
    const result = checked(at.view.job, spec, typed);
    error.textContent = said(result.error ?? "");
    if (!result.error) save(at, result.value, "", button);
  };
  const entry = canRecord ? [remembered(at, keep), wordRow(at, keep, gettext("Save"))] : [];
  return [fieldName(spec), expectedLine(at), standing(at), ...entry, error];
}

// The input with its button; ``keep`` is given what was typed, or scanned.
export function wordRow(at, keep, words, value = "") {
  const { spec } = at;
  const input = inputOf(at, value);
  const go = () => keep(input.value, button);
  const button = h(
    "button",
    { class: "btn btn-primary", type: "button", "aria-label": `${words} ${spec.label}`, onclick: go },
    words,
  );
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") go();
  });
  const scanned = (found) => {
    input.value = found;
    keep(found, button, { isScanned: true });
  };
  const scan = spec.kind === "serial" ? scanButton(spec.label, scanned) : "";
  const label = h("label", { class: "visually-hidden", for: input.id }, spec.label);
  return h("div", { class: "word-row" }, label, input, scan, button);
}

function inputOf(at, value) {
  const { spec, step } = at;
  return h("input", {
    id: `in-${step.pk}-${spec.name}`,
    type: ["date", "month"].includes(spec.format) ? spec.format : "text",
    autocomplete: "off",
    autocapitalize: spec.kind === "serial" ? "characters" : "sentences",
    maxlength: "400",
    "data-key": keyOf(at),
    value,
  });
}
