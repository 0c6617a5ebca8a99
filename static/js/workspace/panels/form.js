// The numbers of one panel, typed in the shop's units; what cannot be is refused and never lost.

import { by } from "../dom.js";
import { read, show } from "../lengths.js";

const LENGTHS = {
  x_mm: [-1000, 16000, "From the rear"],
  y_mm: [-1000, 4000, "From the right"],
  height_mm: [0, 600, "Above roof"],
};
const COUNTS = { feet: [0, 20, "Feet"], fasteners: [0, 12, "Screws per foot"] };

export function showForm(panel, units) {
  const form = by("ws-form");
  form.hidden = !panel;
  if (!panel) return;
  by("ws-form-h").textContent = `Panel ${panel.number}`;
  for (const name of Object.keys(LENGTHS)) put(form.elements[name], show(panel[name], units));
  for (const name of Object.keys(COUNTS)) put(form.elements[name], String(panel[name]));
  by("ws-turned").checked = panel.turned;
  by("ws-box_far").checked = Boolean(panel.box_far);
}

// What is being typed is never lost: a field in use, or refused, keeps its text.
function put(field, text) {
  if (field.classList.contains("is-invalid") && field.dataset.panel === by("ws-form-h").textContent) return;
  field.classList.remove("is-invalid");
  field.removeAttribute("aria-invalid");
  field.value = text;
  field.dataset.shown = text;
  field.dataset.panel = by("ws-form-h").textContent;
  by("ws-wrong").textContent = "";
}

export function watchForm(units, set) {
  const form = by("ws-form");
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("change", (event) => {
    const field = event.target;
    if (field.type === "checkbox") return set(field.id.slice(3), field.checked);
    if (field.value === field.dataset.shown) return clear(field);
    const [value, wrong] = taken(field, units);
    field.classList.toggle("is-invalid", Boolean(wrong));
    if (wrong) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
    by("ws-wrong").textContent = wrong;
    if (!wrong) set(field.name, value);
  });
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter") event.target.dispatchEvent(new Event("change", { bubbles: true }));
  });
}

function clear(field) {
  field.classList.remove("is-invalid");
  field.removeAttribute("aria-invalid");
  by("ws-wrong").textContent = "";
}

function taken(field, units) {
  const isCount = field.name in COUNTS;
  const [low, high, name] = isCount ? COUNTS[field.name] : LENGTHS[field.name];
  const value = isCount ? Number(field.value || NaN) : read(field.value, units);
  const ok = value !== null && value >= low && value <= high && (!isCount || Number.isInteger(value));
  const range = isCount
    ? `a whole number from ${low} to ${high}`
    : `a length from ${show(low, units)} to ${show(high, units)}`;
  return [value, ok ? "" : `${name}: must be ${range}.`];
}
