// The words beside the roof about its wires: what can be added, and what each circuit comes to.

import { badge, by, element } from "../dom.js";
import { pointsOf, wiresOf } from "./route.js";

// Offers what can be put down, and stays on what is not there yet.
export function offer({ store, start, parts }) {
  const { layout } = store;
  const options = [
    ["gland", "Gland"],
    ...start.controllers.map((label) => [`combiner:${label}`, `Combiner of controller ${label}`]),
    ...wiresOf(layout, parts).map((one) => [one.id, one.words]),
  ];
  const select = by("ws-wire-what");
  const text = JSON.stringify(options);
  if (select.dataset.shown === text) return;
  const before = select.value;
  select.dataset.shown = text;
  select.replaceChildren(...options.map(([value, words]) => new Option(words, value)));
  const stands = new Set(pointsOf(layout, parts).map((one) => one.id));
  const missing = options.find(([value]) => value.startsWith("combiner") && !stands.has(value));
  const mayStay = options.some(([value]) => value === before) && !stands.has(before);
  select.value = mayStay ? before : (missing?.[0] ?? before);
  if (!select.value) select.selectedIndex = 0;
}

// Shows length, gauge, drop and verdict of the roof circuits of a live answer.
export function showSizes(answer) {
  if (answer.error) return;
  const rows = answer.wires ?? []; // none while the design cannot be sized
  by("ws-wire-rows").replaceChildren(...rows.map(row));
  by("ws-wire-sums").hidden = !rows.length;
}

function row(wire) {
  const made = element("tr");
  const head = element("th", `${wire.label} ${wire.words}`);
  head.scope = "row";
  head.append(element("span", wire.how, "muted small ws-how"));
  const verdict = element("td");
  verdict.append(badge(wire.verdict));
  made.append(head, ...[wire.length, wire.gauge, wire.drop].map((text) => element("td", text)), verdict);
  return made;
}
