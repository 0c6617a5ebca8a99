// Simple ticks of one place and moment, done in the list of a phase without opening each step.
import { h } from "../dom.js";
import { NOTHING } from "../rules/reducer.js";
import { lineButtons } from "./field/pick.js";
import { save } from "./field/saving.js";
import { tickButton } from "./field/tick.js";
import { isAtWork, mayRecord } from "./may.js";
import { isExtra, isLeft } from "./not_here.js";
import { isTable } from "./pages.js";
import { safety } from "./safety.js";

const SIMPLE = ["tick", "lines"];

// Returns the ticks of a page that asks for nothing else; empty for every other page.
export function together(view, page) {
  const [step] = page.steps;
  const specs = isTable(page) ? [] : simple(view, step);
  const open = specs.filter(
    (spec) =>
      !(view.state(step).fields[spec.name] ?? NOTHING).standing.length ||
      view.mark(step).fields[spec.name]?.mark === "missing",
  );
  if (!open.length || view.locks(step).length || !mayRecord(view, step) || isLeft(view, step)) return "";
  return h(
    "div",
    { class: "together" },
    step.instruction ? h("p", { class: "together-say" }, step.instruction) : "",
    open.map((spec) => ticks({ view, step, spec, canRecord: true, ...standing(view, step, spec) })),
  );
}

const standing = (view, step, spec) => ({
  found: view.state(step).fields[spec.name] ?? NOTHING,
  mark: view.mark(step).fields[spec.name] ?? { mark: "missing", sentence: "" },
});

// A hold, a step for the lead and lines with an order are looked at on their own page.
function simple(view, step) {
  if (step.is_hold || step.needs_lead || step.licensed || step.extra) return [];
  const specs = view.fields(step).filter((spec) => !isExtra(spec) && spec.required);
  if (specs.some((spec) => spec.name === "safety")) return [];
  return specs.every((spec) => SIMPLE.includes(spec.kind) && !spec.ordered) ? specs : [];
}

function ticks(at) {
  if (at.spec.kind === "tick") return tickButton(at, at.spec.label, true);
  return lineButtons(at, at.found.value, (value, control) => save(at, value, "", control));
}

// The safety lines above the list of a phase, to be read once before its ticks are done here.
export function phaseSafety(view, pages) {
  const first = pages
    .flatMap((page) => page.steps)
    .find((step) => !view.mark(step).isDone && !view.locks(step).length);
  return first ? safety(view, first, isAtWork(view, first)) : "";
}
