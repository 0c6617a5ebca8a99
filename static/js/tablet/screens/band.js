// The acceptance band in words and as a bar, and what the reading card says of a number outside it.
import { h, icon } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { shown } from "../units.js";

const has = (value) => value !== null && value !== undefined && value !== "";

export function bandWords(view, spec, mark) {
  const words = (value) => shown(view.job, value, spec.unit);
  const { low, high } = mark;
  const band =
    has(low) && has(high)
      ? interpolate(gettext("{words} to {words2}"), { words: words(low), words2: words(high) })
      : has(low)
        ? interpolate(gettext("at least {words}"), { words: words(low) })
        : has(high)
          ? interpolate(spec.exclusive_high ? gettext("under {words}") : gettext("at most {words}"), {
              words: words(high),
            })
          : "";
  const expected = has(mark.expected)
    ? typeof mark.expected === "number"
      ? words(mark.expected)
      : String(mark.expected)
    : "";
  const accepted = expected ? gettext("accepted {band}") : gettext("Accepted {band}");
  return [
    expected ? interpolate(gettext("Expected {expected}"), { expected }) : "",
    band ? interpolate(accepted, { band }) : "",
  ]
    .filter(Boolean)
    .join(" · ");
}

const SVG = "http://www.w3.org/2000/svg";

function part(name, facts) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(facts)) element.setAttribute(key, value);
  return element;
}

export function bar({ low, high, mark }, value) {
  if (!has(low) && !has(high)) return "";
  const bottom = has(low) ? low : Math.min(0, high * 0.5);
  const top = has(high) ? high : Math.max(Math.abs(bottom) * 2, bottom + 1);
  const span = Math.max(top - bottom, 1e-9);
  const place = (at) =>
    Math.min(100, Math.max(0, ((at - bottom + span * 0.5) / (span * 2)) * 100)).toFixed(2);
  const drawing = part("svg", {
    class: "band",
    viewBox: "0 0 100 10",
    preserveAspectRatio: "none",
    "aria-hidden": "true",
    focusable: "false",
  });
  const [from, to] = [has(low) ? place(bottom) : 0, has(high) ? place(top) : 100];
  drawing.append(
    part("rect", { class: "band-rail", x: 0, y: 3, width: 100, height: 4 }),
    part("rect", { class: "band-ok", x: from, y: 1, width: (to - from).toFixed(2), height: 8 }),
  );
  if (typeof value === "number")
    drawing.append(
      part("rect", {
        class: ["fail", "caution"].includes(mark) ? "band-out" : "band-in",
        x: place(value),
        y: 0,
        width: 1.2,
        height: 10,
      }),
    );
  return drawing;
}

// What to do about a number, as lines to show.
export const hintLines = (step, mark, value) =>
  hints(step, mark, value).map((words) => h("p", { class: "field-hint" }, icon("hand-index"), ` ${words}`));

// The lines of the step's reading card that fit a number.
function hints(step, mark, value) {
  if (typeof value !== "number" || ["ok", "blank", "missing"].includes(mark.mark)) return [];
  const fits = new Set(situations(value, mark));
  return step.card.filter((row) => fits.has(row.when)).map((row) => row.says);
}

function* situations(value, { low, high, expected }) {
  const isNumber = typeof expected === "number";
  if (value < 0) yield "negative";
  else if (value === 0 || (isNumber && Math.abs(value) < 0.05 * Math.abs(expected))) yield "zero";
  else if (has(high) && value > high) yield "high";
  else if (has(low) && value < low) {
    yield "low";
    if (isNumber && expected && Math.abs(value / expected - 0.5) < 0.07) yield "half";
  }
}
