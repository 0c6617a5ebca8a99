// A field with a number: its band, what stands, and the way to the number pad; a count is one tap where all
// is there.
import { h, icon } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { NOTHING } from "../../rules/reducer.js";
import { shown } from "../../units.js";
import { bandWords, bar } from "../band.js";
import { isStrict } from "../may.js";
import { openPad } from "../pad.js";
import { fieldName, keyOf, save, standing } from "./saving.js";
import { tickButton } from "./tick.js";

export function number(at) {
  const { view, spec, found, mark, canRecord } = at;
  const asked = bandWords(view, spec, mark);
  const whole = found.standing.length || !canRecord ? null : atOneTap(at);
  const isCounted = whole !== null;
  const entry = isCounted ? () => countRow(at, whole) : padButton;
  return [
    isCounted ? "" : fieldName(spec),
    asked && !isCounted ? h("p", { class: "field-band" }, asked) : "",
    bar(mark, found.value),
    standing(at),
    canRecord ? entry(at) : "",
  ];
}

// A count that is whole, or a number as planned that no meter has to say, is one tap: { label, value }.
function atOneTap({ view, spec, mark }) {
  if ((spec.tick ?? null) !== null)
    return {
      label: interpolate(gettext("{label}: all {tick}"), { label: spec.label, tick: spec.tick }),
      value: spec.whole ? Math.trunc(spec.tick) : spec.tick,
    };
  const expected = mark.expected ?? null;
  if (!isStrict(view) || spec.measured || typeof expected !== "number") return null;
  return {
    label: interpolate(gettext("{label}: {value}, as planned"), {
      label: spec.label,
      value: shown(view.job, expected, spec.unit),
    }),
    value: expected,
  };
}

function countRow(at, { label, value }) {
  const { spec } = at;
  return h(
    "div",
    { class: "count-row" },
    tickButton(at, label, value),
    h(
      "button",
      {
        class: "btn btn-secondary count-pad",
        type: "button",
        "data-key": `pad-${keyOf(at)}`,
        "aria-label": interpolate(gettext("{label}: another number"), { label: spec.label }),
        onclick: () => openPad(at, save),
      },
      gettext("Other"),
    ),
  );
}

function padButton(at) {
  const { view, spec, found } = at;
  const isAgain = found.standing.length > 0;
  const unit = spec.unit
    ? interpolate(gettext("in {label}"), { label: view.job.units[spec.unit]?.label ?? spec.unit })
    : gettext("the number");
  return h(
    "button",
    {
      class: `number-open${isAgain ? " number-again" : ""}`,
      type: "button",
      "data-key": `pad-${keyOf(at)}`,
      onclick: () => open(at),
      "aria-label": `${isAgain ? gettext("New value of") : gettext("Enter")} ${spec.label}`,
    },
    icon("pencil"),
    isAgain ? gettext(" New value") : interpolate(gettext(" Enter {unit}"), { unit }),
  );
}

// Opens the pad; numbers that follow one another are typed one after the other, each saved by itself.
function open(at) {
  const next = at.found.standing.length ? null : following(at);
  const says = next ? { saveWords: interpolate(gettext("Save, then {label}"), { label: next.label }) } : {};
  openPad({ ...at, says }, async (_, value, cause) => {
    await save(at, value, cause);
    if (next) open({ ...at, spec: next, ...standsAt(at, next) });
  });
}

// The number asked right after this one, where it is needed and nothing stands there yet.
function following({ view, step, spec }) {
  const specs = view.fields(step);
  const next = specs[specs.findIndex((one) => one.name === spec.name) + 1];
  if (next?.kind !== "number" || !next.required) return null;
  const own = standsAt({ view, step }, next);
  const isTap = atOneTap({ view, spec: next, ...own }) !== null;
  return own.found.standing.length || isTap ? null : next;
}

const standsAt = ({ view, step }, spec) => ({
  found: view.state(step).fields[spec.name] ?? NOTHING,
  mark: view.mark(step).fields[spec.name] ?? { mark: "missing", sentence: "" },
});
