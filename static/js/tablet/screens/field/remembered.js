// What was written lately at fields that ask the same of every job (meter, die, lot of a tube), as buttons.
import { h } from "../../dom.js";
import { gettext } from "../../language.js";

const MOST = 4;

// Return the buttons; ``keep`` is given the value of the one tapped. Nothing where something stands already.
export function remembered(at, keep) {
  const { spec, view, step } = at;
  if (!spec.remember || (view.state(step).fields[spec.name]?.value ?? null) !== null) return "";
  const values = lastUsed(view, spec);
  if (!values.length) return "";
  const buttons = values.slice(0, MOST).map((value) => {
    const button = h("button", { class: "btn remembered", type: "button" }, String(value));
    button.addEventListener("click", () => keep(value, button));
    return button;
  });
  return h(
    "div",
    { class: "remembered-row" },
    h("span", { class: "remembered-says" }, gettext("Last used")),
    ...buttons,
  );
}

// What was used last of the same thing, on this job before others.
export const lastUsed = (view, { remember }) =>
  remember ? [...new Set([...writtenHere(view, remember), ...offered(view, remember)])] : [];

const offered = (view, group) => view.job.remembered?.[group] ?? [];

function writtenHere(view, group) {
  return view.inScope.flatMap((step) =>
    step.fields
      .filter((spec) => spec.remember === group)
      .map((spec) => view.state(step).fields[spec.name]?.value ?? null)
      .filter((value) => value !== null),
  );
}
