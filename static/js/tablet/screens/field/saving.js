// Records what was tapped at a field, takes it back, and answers at once that it is being saved.
import { h, icon, tell } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { recordValue, undo } from "../../record.js";
import { doneBefore, goOn } from "../go_on.js";
import { saving, whoWhen } from "../parts.js";

// ``at`` is one field of one step as it stands: { view, step, spec, canRecord, found, mark }.
export const keyOf = ({ step, spec }) => `${step.pk}/${spec.name}`;

// Only one record at a time: a second tap on a row that is being saved is the same tap.
const busy = new Set();
// With ``at`` the next open step is shown when this record was the last that its page asked for.
export async function once(key, control, work, words, at) {
  if (busy.has(key)) return;
  busy.add(key);
  saving(control);
  const wasDone = at ? doneBefore(at) : true;
  try {
    await work();
    if (words) tell(words);
  } finally {
    busy.delete(key);
  }
  if (wasDone || !goOn(at)) dispatchEvent(new HashChangeEvent("hashchange")); // draws the view anew
}

const padButton = (at) => document.querySelector(`[data-key="pad-${CSS.escape(keyOf(at))}"]`);

export const save = (at, value, cause = "", control = padButton(at)) =>
  once(
    keyOf(at),
    control,
    () => recordValue(at.view, at.step, at.spec, value, cause),
    interpolate(gettext("{label}: saved here"), { label: at.spec.label }),
    at,
  );

const takeBack = (at, event, control) =>
  once(`${keyOf(at)}/undo`, control, () => undo(at.view, at.step, event), `${at.spec.label}: removed`);

export const undoButton = (at, event, what = at.spec.label) =>
  h(
    "button",
    {
      class: "btn btn-secondary undo",
      type: "button",
      "data-key": `undo-${keyOf(at)}`,
      "aria-label": interpolate(gettext("Undo {what}"), { what }),
      onclick: ({ currentTarget }) => takeBack(at, event, currentTarget),
    },
    icon("arrow-counterclockwise"),
    gettext(" Undo"),
  );

// Who recorded an event, and when.
export const byWhom = (at, event) => whoWhen(event, at.view.job.design_number);

// The values that stand at a field, each with who recorded it and a way to take it back.
export function standing(at) {
  return at.found.standing
    .filter((event) => !event.photo)
    .map((event) =>
      h(
        "div",
        { class: "standing" },
        h("span", { class: "standing-value" }, at.view.say(at.spec, event)),
        h("span", { class: "standing-by" }, byWhom(at, event)),
        at.canRecord ? undoButton(at, event) : "",
      ),
    );
}

export const fieldName = (spec) =>
  h(
    "h2",
    { class: "field-name" },
    spec.label,
    spec.required ? "" : h("span", { class: "field-optional" }, gettext(" if any")),
  );
