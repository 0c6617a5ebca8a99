// One field of a step: a tick, a number with its band, a choice, words or photos, and what is wrong with it.
import { h, icon } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { NOTHING } from "../../rules/reducer.js";
import { hintLines } from "../band.js";
import { judged } from "../trial.js";
import { choice } from "./choice.js";
import { linesField, severalField } from "./lines.js";
import { number } from "./number.js";
import { photos } from "./photos.js";
import { byWhom, save } from "./saving.js";
import { signature } from "./signature.js";
import { text } from "./text.js";
import { tickRow } from "./tick.js";

const BODIES = {
  tick: tickRow,
  photo: photos,
  number,
  choice,
  signature,
  lines: linesField,
  several: severalField,
};

export function field(view, step, spec, canRecord) {
  const found = view.state(step).fields[spec.name] ?? NOTHING;
  const mark = view.mark(step).fields[spec.name] ?? { mark: "missing", sentence: "" };
  const at = { view, step, spec, canRecord, found, mark };
  const body = BODIES[spec.kind] ?? text;
  return h(
    "section",
    { class: `field field-${mark.mark}`, "aria-label": spec.label },
    body(at),
    found.isConflict ? settle(at) : complaint(at),
    spec.kind === "number" ? hintLines(step, mark, found.value) : "",
  );
}

// What is wrong with the value, said once: a plain "missing" is seen by the field being empty.
function complaint({ spec, mark, found }) {
  const isPlain =
    mark.mark === "missing" && (spec.kind === "photo" || mark.sentence === `${spec.label}: missing`);
  const isUntouched = mark.mark === "missing" && spec.kind === "lines" && !found.standing.length;
  const says = mark.sentence && !isPlain && !isUntouched ? mark.sentence.replace(`${spec.label}: `, "") : "";
  if (!says) return "";
  const shape = ["fail", "conflict"].includes(mark.mark) ? "x-octagon" : "exclamation-triangle";
  return h("p", { class: "field-says" }, icon(shape), ` ${says[0].toUpperCase()}${says.slice(1)}`);
}

// Two values that never saw each other: both are shown, a person says which is right.
function settle(at) {
  const { found } = at;
  const question = gettext(" Recorded twice and different. Which one is right?");
  return h(
    "div",
    { class: "settle" },
    h("p", { class: "field-says" }, icon("question-circle"), question),
    found.values.map((value) => optionButton(at, value)),
  );
}

function optionButton(at, value) {
  const { view, spec, found, canRecord } = at;
  const event = found.standing.find((one) => one.value === value);
  const isOut = judged(at, value)?.mark === "fail";
  return h(
    "button",
    {
      class: "tick",
      type: "button",
      disabled: !canRecord,
      onclick: ({ currentTarget }) => save(at, value, "settled", currentTarget),
    },
    h(
      "span",
      { class: "tick-words" },
      interpolate(gettext("{say} is right"), { say: view.say(spec, event) }),
      isOut ? h("span", { class: "tick-out" }, icon("x-octagon"), gettext(" out of band")) : "",
      byWhom(at, event),
    ),
  );
}
