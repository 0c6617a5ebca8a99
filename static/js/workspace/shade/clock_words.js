// Words and numbers of a moment: where the sun is, what each string gives, which panels lie in shadow.

import { element } from "../dom.js";
import { sample } from "./layers.js";

const two = (number) => String(number).padStart(2, "0");

// Returns a minute of the day as a clock shows it.
export const clockText = (minute) => `${two(Math.floor(minute / 60))}:${two(minute % 60)}`;

const offset = (hours) => (hours < 0 ? `−${-hours}` : `+${hours}`);
const lost = (one) => (one.bare > 0 ? `${Math.round((100 * (one.bare - one.power)) / one.bare)}%` : "–");

export function sunWords({ moment, place }, units) {
  const zone = `Clock at UTC${offset(place.utc_offset_h)}, ${place.name}.`;
  if (moment.elevation <= 0) return `The sun is down. ${zone}`;
  const air = units === "metric" ? `${moment.air_c} °C` : `${Math.round(moment.air_c * 1.8 + 32)} °F`;
  return (
    `Sun ${moment.elevation.toFixed(1)}° high in the ${moment.from} ` +
    `(${Math.round(moment.azimuth)}°), air ${air}. ` +
    zone
  );
}

export function shadowWords({ panels, elevation }) {
  if (elevation <= 0) return "";
  const hit = panels.filter(([, share]) => share > 0);
  if (!hit.length) return "No shadow lies on a panel.";
  return `In shadow: ${hit.map(([number, share]) => `${share}% of panel ${number}`).join(", ")}.`;
}

// Returns the rows of the power table: one a string, and all together.
export function powerRows(stage, moment) {
  return [...moment.strings.map((one) => stringRow(stage, one)), totalRow(moment)];
}

function stringRow(stage, one) {
  const line = element("tr");
  const name = element("th");
  name.scope = "row";
  if (one.number) name.append(sample(stage, one.panels[0]), ` ${one.number}, ${one.controller}`);
  else name.append("not wired");
  line.append(name, element("td", one.panels.join(", ")), ...numbers(one));
  return line;
}

function totalRow(moment) {
  const line = element("tr", "", "ws-power-total");
  const name = element("th", "Together");
  Object.assign(name, { scope: "row", colSpan: 2 });
  line.append(name, ...numbers(moment));
  return line;
}

function numbers(one) {
  return [`${one.power} W`, `${one.bare} W`, lost(one)].map((words) => element("td", words, "end num"));
}

// Returns what is told of the worst hour that was looked for; ``when`` is "this day" or a year.
export function worstWords(hour, when) {
  if (!hour) {
    return `Shade takes less than 1 Wh in every hour of ${when === "this day" ? when : `a clear ${when}`}.`;
  }
  return (
    `Worst hour of ${when}: ${hour.date}, ${clockText(hour.minute - 30)} to ` +
    `${clockText(hour.minute + 30)}. ` +
    `Shade takes ${hour.lost_wh} of ${hour.bare_wh} Wh.`
  );
}
