// Draws a day's power beside what a roof without shade gives, and lets the slider run over its hours of
// light.

import { by, element } from "../dom.js";
import { clockText } from "./clock_words.js";

const STEP = 15; // minutes between two values of a day
const BASE = 38; // y of no power in the chart; the highest power is at 2

export function drawDay(stage, day, slider) {
  const [low, high] = hoursOfLight(day);
  fitSlider(slider, low, high);
  by("ws-day-chart").replaceChildren(...chart(stage, day, slider, low, high));
  by("ws-day-scale").replaceChildren(...scale(low, high));
  by("ws-day-words").textContent = words(day);
}

// Returns the minutes of the day shortly before sunrise and shortly after sunset.
function hoursOfLight(day) {
  const up = day.elevation.map((value) => value > 0);
  const [first, last] = up.includes(true) ? [up.indexOf(true) - 1, up.lastIndexOf(true) + 1] : [0, 95];
  return [Math.max(first, 0) * STEP, Math.min(last, 95) * STEP];
}

function fitSlider(slider, low, high) {
  if (Number(slider.min) === low && Number(slider.max) === high) return;
  const { value } = slider;
  Object.assign(slider, { min: low, max: high });
  slider.value = value;
}

function chart(stage, day, slider, low, high) {
  const top = Math.max(...day.bare, 1);
  const x = (minute) => (100 * (minute - low)) / (high - low);
  const y = (watts) => BASE - (36 * watts) / top;
  const path = (values) =>
    values
      .map((watts, i) => [i * STEP, watts])
      .filter(([minute]) => minute >= low && minute <= high)
      .map(([minute, watts]) => `${x(minute).toFixed(2)},${y(watts).toFixed(2)}`)
      .join(" ");
  const curve = (name, values) => stage.node("polyline", { points: path(values), class: name });
  const upright = (at, y1, y2, name) => stage.node("line", { x1: at, x2: at, y1, y2, class: name });
  const parts = [
    stage.node("polygon", { points: `0,${BASE} ${path(day.power)} 100,${BASE}`, class: "ws-day-area" }),
    stage.node("line", { x1: 0, x2: 100, y1: BASE, y2: BASE, class: "ws-day-base" }),
    curve("ws-day-bare", day.bare),
    curve("ws-day-power", day.power),
    upright(x(Number(slider.value)), 0, BASE, "ws-day-cursor"),
  ];
  if (!day.worst) return parts;
  const place = day.worst.minute / STEP;
  return [...parts, upright(x(day.worst.minute), y(day.bare[place]), y(day.power[place]), "ws-day-worst")];
}

function scale(low, high) {
  return [low, (low + high) / 2, high].map((minute) =>
    element("span", clockText(Math.round(minute / STEP) * STEP)),
  );
}

function words(day) {
  const sum = (values) => (values.reduce((all, one) => all + one, 0) * STEP) / 60 / 1000;
  return (
    `Solid: power, ${sum(day.power).toFixed(2)} kWh on this day. Dashed: unshaded, ` +
    `${sum(day.bare).toFixed(2)} kWh, highest ${Math.max(...day.bare)} W.` +
    (day.worst
      ? " Thick upright: the hour in which shade takes most."
      : " Shade takes less than 1 Wh in every hour.")
  );
}
