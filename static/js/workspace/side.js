// The words beside the roof: what the layout means for the year, the rules and the strings, and whether it is
// saved.

import { badge, by, element } from "./dom.js";

const whole = (number) => Math.round(number).toLocaleString("en-US");

export function showAnswer(answer) {
  by("ws-trouble").hidden = !answer.error && !answer.unsized;
  by("ws-trouble").textContent = answer.error || answer.unsized || "";
  if (answer.error) return;
  if ("year" in answer) showYear(answer);
  else if (answer.feet_count && by("ws-year").hasAttribute("data-none"))
    by("ws-year").textContent = by("ws-year-words").textContent = "…";
  const strings = by("ws-strings");
  strings.replaceChildren("String plan: ");
  if (answer.strings) strings.append(badge(answer.strings.verdict), ` ${answer.strings.count} checks`);
  else strings.append(element("span", "no string to judge yet", "muted"));
  by("ws-counts").textContent = answer.feet_count
    ? `${answer.feet_count} feet, ${answer.feet_on_rafter} on a rafter as ` +
      `drawn${answer.feet_count > answer.feet_on_rafter ? "; the ringed ones miss" : ""}.`
    : "";
  const checks = [...answer.rules, ...(answer.strings?.said ?? []), ...(answer.roof ?? [])];
  by("ws-rules").replaceChildren(...checks.map(rule));
  if (!checks.length && answer.feet_count)
    by("ws-rules").append(element("li", "Nothing stands in the way.", "muted"));
}

function rule(check) {
  const line = element("li");
  line.append(badge(check.verdict), " ", check.sentence || check.title);
  return line;
}

export function showYear({ year, year_reason: reason }) {
  by("ws-year").toggleAttribute("data-none", !year);
  by("ws-year").textContent = year ? `${whole(year.mean_kwh)} kWh a year` : "No year yet";
  by("ws-year-words").textContent = year ? yearWords(year) : reason;
}

function yearWords(year) {
  const wired = year.is_wired ? "" : " No string is wired: each panel counts as if on a tracker of its own.";
  const month =
    `${year.month_is_chosen ? "" : "Poorest month, "}${year.month}: ` +
    `${year.month_kwh_per_day.toFixed(2)} kWh a day.`;
  return (
    `${(100 * year.loss_fraction).toFixed(1)}% lost against a roof without shade. Parked ` +
    `facing ${year.best} ` +
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
  offline:
    "No connection. Your work is kept on this device and sent when it is back. The numbers update then.",
  refused: "Not saved.",
  held: "Not saved: choose which roof stays.",
};

export function showState(name, words = "") {
  const state = by("ws-state");
  const text = [STATES[name], words].filter(Boolean).join(" ");
  if (state.textContent !== text) state.textContent = text;
  state.dataset.state = name;
}
