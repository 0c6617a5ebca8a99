// A field with words: a serial number, a name, a date or a month.
import { h, said } from "../../dom.js";
import { checked } from "../../rules/entries.js";
import { scanButton } from "../../scan/scanner.js";
import { fieldName, keyOf, save, standing } from "./saving.js";

export function text(at) {
  const { spec, canRecord } = at;
  const input = inputOf(at);
  const error = h("p", { class: "field-says", role: "alert" });
  const button = h(
    "button",
    { class: "btn btn-primary", type: "button", "aria-label": `Save ${spec.label}`, onclick: () => keep() },
    "Save",
  );
  const keep = () => {
    const result = checked(at.view.job, spec, input.value);
    error.textContent = said(result.error ?? "");
    if (!result.error) save(at, result.value, "", button);
  };
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") keep();
  });
  const scanned = (value) => {
    input.value = value;
    keep();
  };
  const scan = spec.kind === "serial" ? scanButton(spec.label, scanned) : "";
  const label = h("label", { class: "visually-hidden", for: input.id }, spec.label);
  return [
    fieldName(spec),
    spec.expected ? h("p", { class: "field-band" }, "Expected ", h("strong", {}, spec.expected)) : "",
    standing(at),
    canRecord ? h("div", { class: "word-row" }, label, input, scan, button) : "",
    error,
  ];
}

function inputOf(at) {
  const { spec, step } = at;
  return h("input", {
    id: `in-${step.pk}-${spec.name}`,
    type: ["date", "month"].includes(spec.format) ? spec.format : "text",
    autocomplete: "off",
    autocapitalize: spec.kind === "serial" ? "characters" : "sentences",
    maxlength: "400",
    "data-key": keyOf(at),
  });
}
