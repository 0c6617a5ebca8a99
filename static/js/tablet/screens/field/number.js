// A field with a number: its band, what stands, and the way to the number pad; a count is one tap where all
// is there.
import { h, icon } from "../../dom.js";
import { bandWords, bar } from "../band.js";
import { openPad } from "../pad.js";
import { fieldName, keyOf, save, standing } from "./saving.js";
import { tickButton } from "./tick.js";

export function number(at) {
  const { view, spec, found, mark, canRecord } = at;
  const asked = bandWords(view, spec, mark);
  const isCounted = (spec.tick ?? null) !== null && !found.standing.length;
  const entry = isCounted ? countRow : padButton;
  return [
    isCounted ? "" : fieldName(spec),
    asked && !isCounted ? h("p", { class: "field-band" }, asked) : "",
    bar(mark, found.value),
    standing(at),
    canRecord ? entry(at) : "",
  ];
}

function countRow(at) {
  const { spec } = at;
  const all = spec.whole ? Math.trunc(spec.tick) : spec.tick;
  return h(
    "div",
    { class: "count-row" },
    tickButton(at, `${spec.label}: all ${spec.tick}`, all),
    h(
      "button",
      {
        class: "btn btn-secondary count-pad",
        type: "button",
        "data-key": `pad-${keyOf(at)}`,
        "aria-label": `${spec.label}: another count`,
        onclick: () => openPad(at, save),
      },
      "Other",
    ),
  );
}

function padButton(at) {
  const { view, spec, found } = at;
  const isAgain = found.standing.length > 0;
  const unit = spec.unit ? `in ${view.job.units[spec.unit]?.label ?? spec.unit}` : "the number";
  return h(
    "button",
    {
      class: `number-open${isAgain ? " number-again" : ""}`,
      type: "button",
      "data-key": `pad-${keyOf(at)}`,
      onclick: () => openPad(at, save),
      "aria-label": `${isAgain ? "New value of" : "Enter"} ${spec.label}`,
    },
    icon("pencil"),
    isAgain ? " New value" : ` Enter ${unit}`,
  );
}
