// Tools, tubes and meters that were typed before are recorded again by one tap.

import { h, icon } from "../../dom.js";
import { gettext } from "../../language.js";
import { record } from "../../record.js";
import { NOTHING } from "../../rules/reducer.js";
import { judged } from "../trial.js";
import { lastUsed } from "./remembered.js";
import { once } from "./saving.js";

// The button that records what was used last at every empty field of a step; one field has its own buttons.
export function asLastTime(view, step) {
  const found = view
    .fields(step)
    .map((spec) => ({ view, step, spec, value: lastUsed(view, spec)[0], found: fieldOf(view, step, spec) }))
    .filter((at) => at.value !== undefined && !at.found.standing.length && fits(at));
  if (found.length < 2) return "";
  const entries = found.map(({ spec, value }) => ({
    step: step.pk,
    field: spec.name,
    value,
    unit: spec.unit ?? "",
  }));
  const words = found.map(({ spec, value }) => view.say(spec, { value })).join(", ");
  return h(
    "button",
    {
      class: "tick last-time",
      type: "button",
      "data-key": `last-${step.pk}`,
      onclick: ({ currentTarget }) =>
        once(
          `last/${step.pk}`,
          currentTarget,
          () => record(view, entries),
          "As last time: saved here",
          found[0],
        ),
    },
    icon("clock-history"),
    h("span", { class: "tick-words" }, gettext("As last time"), h("span", { class: "tick-by" }, words)),
  );
}

const fieldOf = (view, step, spec) => view.state(step).fields[spec.name] ?? NOTHING;

// A tube that is out of date by now, or an answer that is not asked here, is not offered.
function fits(at) {
  const { spec, value } = at;
  if (spec.kind === "choice" && !spec.choices.some(([key]) => key === value)) return false;
  return !["fail", "missing"].includes(judged(at, value)?.mark);
}
