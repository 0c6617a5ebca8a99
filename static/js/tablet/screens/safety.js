// The safety lines of a step: on every step they apply to, never folded; read once per person, phase and day
// before the first record.
import { h, icon } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { recordSafety } from "../record.js";
import { once } from "./field/saving.js";
import { lines } from "./parts.js";

const phaseOf = (view, step) => view.job.phases.find((phase) => phase.letter === step.phase);

// The lines of the phase, and those that this step adds.
export const linesOf = (view, step) =>
  step.safety?.length ? step.safety : (phaseOf(view, step)?.safety ?? []);

export function today() {
  const now = new Date();
  const two = (number) => String(number).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

// Whether this person said today that the lines of the phase are read; older lists ask for a tick instead.
export const isRead = (view, step) => !view.mustRead(step, today());

export function safety(view, step, canRecord) {
  const words = linesOf(view, step);
  if (!words.length) return "";
  return h(
    "section",
    { class: "safety", "aria-label": gettext("Safety") },
    lines(words),
    canRecord && !isRead(view, step) ? readButton(view, step) : "",
  );
}

function readButton(view, step) {
  const words = interpolate(gettext("Safety lines of {phase}: read"), { phase: step.phase });
  return h(
    "button",
    {
      class: "tick safety-read",
      type: "button",
      "data-key": `safety-${step.phase}`,
      onclick: ({ currentTarget }) =>
        once(`safety/${step.phase}`, currentTarget, () => recordSafety(view, step, today()), words),
    },
    h("span", { class: "tick-box" }),
    h("span", { class: "tick-words" }, gettext("Read; I keep to these")),
  );
}

// At the go: the lines of all live work that it opens.
export function liveLines(view, step) {
  if (step.role !== "go") return "";
  const own = new Set(linesOf(view, step));
  const words = new Set(
    view.inScope
      .filter((one) => one.live)
      .flatMap((one) => linesOf(view, one).filter((line) => !own.has(line))),
  );
  if (!words.size) return "";
  return h(
    "section",
    { class: "safety", "aria-label": gettext("Safety of live work") },
    h("h2", {}, icon("lightning-charge"), gettext(" From here on work is live")),
    lines([...words]),
  );
}
