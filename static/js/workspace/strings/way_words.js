// Words for other ways to wire: the headline, what was tried, and each way with its gain.

import { badge, element } from "../dom.js";

export const listed = (panels) => panels.join(" → ");

const signed = (value, digits) =>
  `${value > 0 ? "+" : value < 0 ? "−" : "±"}${Math.abs(value).toFixed(digits)}`;

// Returns how the wiring as it is stands against the best way found.
export function headline({ own, ways, problem }) {
  if (problem) return `No way wires all panels. ${problem}`;
  if (!own) return "Nothing is wired yet. Ways to wire all panels, best year first:";
  const loose = own.loose
    ? ` ${own.loose} ${own.loose === 1 ? "panel is" : "panels are"} not in a string.`
    : "";
  const verdict = own.verdict === "block" ? " The string rules refuse it as it is." : "";
  const now = `As wired: ${own.kwh} kWh a year.`;
  const best = ways.find((one) => one.verdict !== "block");
  if (!best) return `${now} The string rules refuse every way with the wire chosen now.${loose}`;
  if (best.is_own || best.is_equal || best.gain_kwh <= 0)
    return `${now} No way gives noticeably more.${loose}${verdict}`;
  return `${now} The best way gives ${best.gain_kwh} kWh more.${loose}${verdict}`;
}

// Returns how many ways were tried, and where.
export function basis({ shared, is_complete: isComplete, tried, place }) {
  const shares = shared
    ? `${shared} ways to share the panels between the controllers were compared first. `
    : "";
  return (
    `${shares}${isComplete ? "All" : "The first"} ${tried} ways to make equal strings ` +
    `${shares ? "on each controller " : ""}were tried at ${place}, mean of all parking ` +
    `directions. Under 0.3% is no difference.`
  );
}

// Returns the line of one way; ``money`` puts a gain into words, ``onTake`` is called when the way is taken.
export function wayLine(way, money, onTake) {
  const line = element("li");
  const strings = way.strings.map((string) => `${string.controller}: ${listed(string.panels)}`).join(" | ");
  const head = element("p", "", "ws-way-head");
  head.append(element("strong", way.label), " ", badge(way.verdict));
  line.append(head, element("p", strings, "num"), element("p", gain(way, money), "ws-gain num"));
  const needs = way.needs.length ? ` It would pass with thicker wire: ${way.needs.join(", ")}.` : "";
  if (way.why) line.append(element("p", `${way.why}.${needs}`, "small muted"));
  if (!way.is_own) line.append(takeButton(way, onTake));
  return line;
}

function gain(way, money) {
  if (way.gain_kwh === null) return `${way.kwh} kWh a year`;
  if (way.is_own) return `${way.kwh} kWh a year, as it is now`;
  const worth = way.is_equal ? ", no difference" : money(way.gain_kwh);
  return `${signed(way.gain_kwh, 1)} kWh a year${worth}`;
}

function takeButton(way, onTake) {
  const button = element("button", "Use this", "btn btn-secondary btn-sm");
  button.type = "button";
  const strings = way.strings.map((string) => listed(string.panels)).join(" and ");
  button.setAttribute("aria-label", `Use this: ${way.label}, ${strings}`);
  button.addEventListener("click", onTake);
  return button;
}
