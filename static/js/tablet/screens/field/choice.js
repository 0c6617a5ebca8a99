// A field with a choice of answers.
import { h } from "../../dom.js";
import { expectedLine } from "./expected.js";
import { byWhom, fieldName, keyOf, save, undoButton } from "./saving.js";

export function choice(at) {
  const { spec, found } = at;
  return [
    fieldName(spec),
    expectedLine(at),
    h(
      "div",
      { class: "choices", role: "group", "aria-label": spec.label },
      spec.choices.map(([value, label]) => answerButton(at, value, label)),
    ),
    found.standing.length && !found.isConflict ? recordedBy(at, found.standing[0]) : "",
  ];
}

function answerButton(at, value, label) {
  const isOn = at.found.value === value;
  return h(
    "button",
    {
      class: `choice${isOn ? " choice-on" : ""}`,
      type: "button",
      disabled: !at.canRecord,
      "data-key": `${keyOf(at)}-${value}`,
      "aria-pressed": isOn ? "true" : "false",
      onclick: ({ currentTarget }) => (isOn ? null : save(at, value, "", currentTarget)),
    },
    h("span", { class: "choice-dot", "aria-hidden": "true" }),
    h("span", {}, label),
  );
}

function recordedBy(at, event) {
  return h(
    "div",
    { class: "standing" },
    h("span", { class: "standing-by" }, byWhom(at, event)),
    at.canRecord ? undoButton(at, event) : "",
  );
}
