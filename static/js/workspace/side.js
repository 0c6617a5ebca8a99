// The words beside the roof: what the layout means, the list of panels, numbers for the chosen one.

import { read, show } from "./lengths.js";

const by = (id) => document.getElementById(id);
const WORDS = { pass: "Pass", caution: "Caution", block: "Block", not_enough_data: "Not enough data" };
const whole = (number) => Math.round(number).toLocaleString("en-US");
const NO_YEAR = "No year yet";
const SIGNS = { pass: "✓", caution: "!", block: "✕", not_enough_data: "?" };

export function element(name, text = "", classes = "") {
  const made = document.createElement(name);
  made.textContent = text;
  if (classes) made.className = classes;
  return made;
}

export function badge(verdict) {
  const made = element("span", "", `verdict verdict-${verdict.replaceAll("_", "-")}`);
  const sign = element("span", SIGNS[verdict]);
  sign.setAttribute("aria-hidden", "true");
  made.append(sign, ` ${WORDS[verdict]}`);
  return made;
}

export function showAnswer(answer) {
  by("ws-trouble").hidden = !answer.error && !answer.unsized;
  by("ws-trouble").textContent = answer.error || answer.unsized || "";
  if (answer.error) return;
  if ("year" in answer) showYear(answer);
  else if (answer.feet_count && by("ws-year").textContent === NO_YEAR)
    by("ws-year").textContent = by("ws-year-words").textContent = "…";
  const strings = by("ws-strings");
  strings.replaceChildren("String plan: ");
  if (answer.strings) strings.append(badge(answer.strings.verdict), ` ${answer.strings.count} checks`);
  else strings.append(element("span", "no string to judge yet", "muted"));
  by("ws-counts").textContent = answer.feet_count
    ? `${answer.feet_count} feet, ${answer.feet_on_rafter} on a rafter as drawn${answer.feet_count > answer.feet_on_rafter ? "; the ringed ones miss" : ""}.`
    : "";
  const said = [...answer.rules, ...(answer.strings?.said ?? []), ...(answer.roof ?? [])];
  by("ws-rules").replaceChildren(...said.map(rule));
  if (!said.length && answer.feet_count)
    by("ws-rules").append(element("li", "Nothing stands against it.", "muted"));
}

function rule(check) {
  const line = element("li");
  line.append(badge(check.verdict), " ", check.sentence || check.title);
  return line;
}

export function showYear({ year, year_reason: reason }) {
  by("ws-year").textContent = year ? `${whole(year.mean_kwh)} kWh a year` : NO_YEAR;
  by("ws-year-words").textContent = year ? yearWords(year) : reason;
}

function yearWords(year) {
  const wired = year.is_wired ? "" : " No string is wired: each panel counts as if on a tracker of its own.";
  const month = `${year.month_is_chosen ? "" : "Poorest month, "}${year.month}: ${year.month_kwh_per_day.toFixed(2)} kWh a day.`;
  return (
    `${(100 * year.loss_fraction).toFixed(1)}% lost against a roof without shade. Parked facing ${year.best} ` +
    `${whole(year.best_kwh)} kWh, facing ${year.worst} ${whole(year.worst_kwh)} kWh. ${month} ` +
    `Open sky at ${year.place}.${wired}`
  );
}

export function showDetail(detail) {
  by("ws-shade").hidden = !detail.panels?.length;
  if (!detail.panels) return;
  by("ws-bars").replaceChildren(...detail.panels.map(bar));
  by("ws-costs").replaceChildren(
    ...detail.obstacles.map(({ name, cost_kwh: cost }) =>
      element("li", `${name[0].toUpperCase()}${name.slice(1)}: ${cost.toFixed(cost < 10 ? 1 : 0)} kWh`),
    ),
  );
  by("ws-findings").replaceChildren(...detail.findings.map((words) => element("li", words)));
}

function bar({ number, loss_fraction: loss }) {
  const line = element("li");
  const meter = element("meter");
  Object.assign(meter, { min: 0, max: 0.6, value: Math.max(loss, 0) });
  meter.setAttribute("aria-label", `Panel ${number}, share lost`);
  line.append(
    element("span", `Panel ${number}`),
    meter,
    element("span", `${(100 * loss).toFixed(1)}%`, "num"),
  );
  return line;
}

export function showTrouble(words) {
  by("ws-trouble").hidden = false;
  by("ws-trouble").textContent = words;
}

const STATES = {
  saved: "Saved",
  waiting: "Not saved yet",
  saving: "Saving …",
  offline: "No connection. Your work is kept on this device and sent when it is back. Sums wait.",
  refused: "Not saved.",
  held: "Not saved: choose which roof stays.",
};

export function showState(name, words = "") {
  const state = by("ws-state");
  const text = [STATES[name], words].filter(Boolean).join(" ");
  if (state.textContent !== text) state.textContent = text;
  state.dataset.state = name;
}

export function showPanels(layout, chosen, parts, choose) {
  by("ws-none").hidden = layout.panels.length > 0;
  const list = by("ws-list");
  const focused = list.contains(document.activeElement) ? document.activeElement.id : "";
  const stringOf = new Map(
    layout.strings.flatMap((one, place) => one.panels.map((panel) => [panel, `string ${place + 1}`])),
  );
  list.replaceChildren(
    ...layout.panels.map((panel) => {
      const line = element("li", "", "form-check");
      const box = element("input", "", "form-check-input");
      Object.assign(box, {
        type: "checkbox",
        id: `ws-panel-${panel.number}`,
        checked: chosen.includes(panel.number),
      });
      box.addEventListener("change", () => choose(panel.number, box.checked));
      const label = element("label", "", "form-check-label");
      label.htmlFor = box.id;
      label.append(
        element("strong", `${panel.number}`),
        ` ${parts.get(panel.part).name}, ${stringOf.get(panel.number) ?? "in no string"}`,
      );
      line.append(box, label);
      return line;
    }),
  );
  if (focused) by(focused)?.focus();
}

export function showWiring(labels, count, act) {
  const buttons = labels.map((label) => {
    const made = element("button", `Wire chosen as a string on ${label}`, "btn btn-secondary btn-sm");
    made.addEventListener("click", () => act(label));
    return made;
  });
  const loose = element("button", "Unwire chosen", "btn btn-secondary btn-sm");
  loose.addEventListener("click", () => act(null));
  for (const one of [...buttons, loose]) Object.assign(one, { type: "button", disabled: !count });
  const place = by("ws-wire");
  if (place.childElementCount !== labels.length + 1) place.replaceChildren(...buttons, loose);
  else for (const one of place.children) one.disabled = !count;
}

const LENGTHS = {
  x_mm: [-1000, 16000, "From the rear"],
  y_mm: [-1000, 4000, "From the right"],
  height_mm: [0, 600, "Above roof"],
};
const COUNTS = { feet: [0, 20, "Feet"], fasteners: [0, 12, "Screws a foot"] };

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
