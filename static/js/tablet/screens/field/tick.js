// A field that is ticked: one tap records, one tap takes back.
import { h, icon } from "../../dom.js";
import { byWhom, keyOf, save, undoButton } from "./saving.js";

const box = (...children) => h("span", { class: "tick-box" }, ...children);
const words = (...children) => h("span", { class: "tick-words" }, ...children);

export function tickRow(at) {
  const { spec, found, canRecord } = at;
  const event = found.standing[0];
  if (!event) return tickButton(at, spec.label, true);
  return h(
    "div",
    { class: "tick tick-on" },
    box(icon("check-lg")),
    words(spec.label, byWhom(at, event)),
    canRecord ? undoButton(at, event) : "",
  );
}

export function tickButton(at, label, value) {
  if (!at.canRecord) return h("div", { class: "tick" }, box(), words(label));
  return h(
    "button",
    {
      class: "tick",
      type: "button",
      "data-key": keyOf(at),
      onclick: ({ currentTarget }) => save(at, value, "", currentTarget),
    },
    box(),
    words(label),
  );
}
