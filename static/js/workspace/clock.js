// The shade clock: what it is set to, its day, playing through it. The server works out every moment.

import { drawDay, drawShadows } from "./clock_draw.js";
import { layerSwitch, sample } from "./layers.js";
import { element } from "./side.js";
import { Live } from "./talk.js";

const by = (id) => document.getElementById(id);
const STEP = 15; // minutes
const PACE = 220; // ms a step while it plays, or as fast as the answers come
const POINTS = [
  "N",
  "NNE",
  "NE",
  "ENE",
  "E",
  "ESE",
  "SE",
  "SSE",
  "S",
  "SSW",
  "SW",
  "WSW",
  "W",
  "WNW",
  "NW",
  "NNW",
];
const still = matchMedia("(prefers-reduced-motion: reduce)");

export const clockWords = (minute) =>
  `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`;

export function openClock(roof) {
  const { store, stage, start } = roof;
  const section = by("ws-clock");
  const form = by("ws-clock-form");
  const slider = by("ws-clock-minute");
  const layer = stage.layer("ws-layer ws-shade");
  const live = new Live(section.dataset.address, onAnswer, (words) => wrong(words));
  let isOn = false;
  let isPlaying = false;
  let isWrong = false; // what is set cannot be asked: late answers do not take the words away
  let version = 0; // grows with the roof, so that its day is asked for again
  const asked = new Map(); // question -> the day it is about
  let day = null; // { key, power, bare, elevation, worst }
  let shown = null;
  let seek = ""; // "worst-day" or "worst-year" while it is looked for
  let [tick, tickedAt] = [0, 0];

  fillHeadings();
  form.elements.date.value = new Date(Date.now() - 60000 * new Date().getTimezoneOffset())
    .toISOString()
    .slice(0, 10);
  slider.value = 12 * 60;
  still.addEventListener("change", calm);
  calm();

  function fillHeadings() {
    for (let turn = 0; turn < 360; turn += 15) {
      const point = turn % 22.5 === 0 || turn % 45 === 0 ? ` ${POINTS[turn / 22.5]}` : "";
      form.elements.heading.append(new Option(`${turn}°${point}`, turn, turn === 180, turn === 180));
    }
  }

  // Under reduced motion the day is stepped through by button.
  function calm() {
    section.querySelector("[data-clock=play]").hidden = still.matches;
    if (still.matches) pause();
  }

  function settings() {
    const { place, latitude, longitude, date, heading } = form.elements;
    const isSpot = place.value === "spot";
    const number = (field) => (field.value.trim() === "" ? NaN : Number(field.value.replace(",", ".")));
    const spot = isSpot ? { latitude: number(latitude), longitude: number(longitude) } : {};
    return {
      stop: isSpot ? "" : place.value,
      ...spot,
      date: date.value,
      heading: Number(heading.value),
      minute: Number(slider.value),
    };
  }

  const keyOf = ({ minute, ...rest }) => JSON.stringify([rest, version]);

  function ask() {
    if (!isOn) return;
    const clock = settings();
    slider.setAttribute("aria-valuetext", clockWords(clock.minute));
    by("ws-clock-time").textContent = clockWords(clock.minute);
    if (!canBe(clock)) return;
    const wants = day?.key === keyOf(clock) ? [] : ["day"];
    if (seek === "worst-year") wants.push("worst_year");
    asked.set(live.sequence + 1, keyOf(clock));
    live.ask(store.layout, false, { clock: { ...clock, wants } });
  }

  // Says which value cannot be, and keeps it as typed; true when all can.
  function canBe(clock) {
    const bad = [];
    if ("latitude" in clock && !(Math.abs(clock.latitude) <= 90))
      bad.push(["latitude", "Latitude: must be a number from -90 to 90 °."]);
    if ("longitude" in clock && !(Math.abs(clock.longitude) <= 180))
      bad.push(["longitude", "Longitude: must be a number from -180 to 180 °."]);
    if (!clock.date) bad.push(["date", "Day: must be a day from 1950 to 2100."]);
    for (const name of ["latitude", "longitude", "date"]) {
      form.elements[name].classList.toggle(
        "is-invalid",
        bad.some(([one]) => one === name),
      );
    }
    wrong(bad.map(([, words]) => words).join(" "));
    isWrong = bad.length > 0;
    if (isWrong) pause();
    return !isWrong;
  }

  function wrong(words) {
    by("ws-clock-wrong").textContent = words;
  }

  function onAnswer(got) {
    let key = asked.get(got.sequence);
    for (const one of [...asked.keys()]) if (one <= got.sequence) asked.delete(one);
    if (isWrong) return;
    wrong(got.error || got.reason || "");
    if (!got.moment) {
      pause();
      seek = "";
      return;
    }
    if (got.stops?.length && fillPlaces(got.stops, got.place.key)) key = keyOf(settings());
    shown = got;
    if (got.day) day = { key, ...got.day };
    const { value } = slider;
    show();
    if (slider.value !== value) return ask(); // the day is shorter than the hour that was set
    if (seek) found(got);
    if (isPlaying) tick = setTimeout(next, Math.max(0, PACE - (performance.now() - tickedAt)));
  }

  // Puts the places of the travel plan in, once; the one that was answered is the one chosen.
  function fillPlaces(stops, key) {
    const { place } = form.elements;
    if (place.options.length > 2) return false;
    const { value } = place;
    const spot = place.options[place.options.length - 1];
    for (const one of stops) place.insertBefore(new Option(one.name, one.key), spot);
    place.options[0].remove();
    place.value = value || key;
    return true;
  }

  function show() {
    const { moment, place } = shown;
    const up = moment.elevation > 0;
    by("ws-clock-sun").textContent = up
      ? `Sun ${moment.elevation.toFixed(1)}° high in the ${moment.from} (${Math.round(moment.azimuth)}°), air ${air(moment.air_c)}. ` +
        `Clock at UTC${offset(place.utc_offset_h)}, ${place.name}.`
      : `The sun is down. Clock at UTC${offset(place.utc_offset_h)}, ${place.name}.`;
    by("ws-power").replaceChildren(...moment.strings.map(row), total(moment));
    by("ws-in-shade").textContent = up ? inShade(moment.panels) : "";
    drawShadows(stage, layer, moment, settings().heading, start.roof);
    if (day) drawDay(stage, day, slider);
  }

  const air = (celsius) =>
    start.units === "metric" ? `${celsius} °C` : `${Math.round(celsius * 1.8 + 32)} °F`;
  const offset = (hours) => (hours < 0 ? `−${-hours}` : `+${hours}`);
  const lost = (one) => (one.bare > 0 ? `${Math.round((100 * (one.bare - one.power)) / one.bare)}%` : "–");

  function row(one) {
    const line = element("tr");
    const name = element("th");
    name.scope = "row";
    if (one.number) name.append(sample(stage, one.panels[0]), ` ${one.number}, ${one.controller}`);
    else name.append("not wired");
    line.append(name, element("td", one.panels.join(", ")), ...numbers(one));
    return line;
  }

  function numbers(one) {
    return [`${one.power} W`, `${one.bare} W`, lost(one)].map((words) => element("td", words, "end num"));
  }

  function total(moment) {
    const line = element("tr", "", "ws-power-total");
    const name = element("th", "Together");
    Object.assign(name, { scope: "row", colSpan: 2 });
    line.append(name, ...numbers(moment));
    return line;
  }

  function inShade(panels) {
    const hit = panels.filter(([, share]) => share > 0);
    if (!hit.length) return "No shadow lies on a panel.";
    return `In shadow: ${hit.map(([number, share]) => `${share}% of panel ${number}`).join(", ")}.`;
  }

  // --- the worst hour ---

  function found(got) {
    if (seek === "worst-day") {
      if (!day || day.key !== keyOf(settings())) return;
      land(day.worst, "this day");
    } else if ("worst_year" in got) land(got.worst_year, `${form.elements.date.value.slice(0, 4)}`);
  }

  function land(hour, when) {
    seek = "";
    if (!hour) {
      by("ws-clock-said").textContent =
        `Shade takes less than 1 Wh in every hour of ${when === "this day" ? when : `a clear ${when}`}.`;
      return;
    }
    form.elements.date.value = hour.date;
    slider.min = Math.min(slider.min, hour.minute);
    slider.max = Math.max(slider.max, hour.minute);
    slider.value = hour.minute;
    by("ws-clock-said").textContent =
      `Worst hour of ${when}: ${hour.date}, ${clockWords(hour.minute - 30)} to ${clockWords(hour.minute + 30)}. ` +
      `Shade takes ${hour.lost_wh} of ${hour.bare_wh} Wh.`;
    ask();
  }

  // --- time ---

  function step(count) {
    slider.value = Number(slider.value) + count * STEP;
    ask();
  }

  function next() {
    if (!isPlaying) return;
    if (Number(slider.value) >= Number(slider.max)) return pause();
    tickedAt = performance.now();
    step(1);
  }

  function play() {
    if (Number(slider.value) >= Number(slider.max)) slider.value = slider.min;
    isPlaying = true;
    section.querySelector("[data-clock=play]").textContent = "Stop";
    tickedAt = performance.now();
    ask();
  }

  function pause() {
    isPlaying = false;
    clearTimeout(tick);
    section.querySelector("[data-clock=play]").textContent = "Play the day";
  }

  const acts = {
    earlier: () => step(-1),
    later: () => step(1),
    play: () => (isPlaying ? pause() : play()),
    "worst-day": () => look("worst-day"),
    "worst-year": () => look("worst-year"),
  };

  function look(what) {
    pause();
    seek = what;
    by("ws-clock-said").textContent = "Looking …";
    ask();
  }

  for (const button of section.querySelectorAll("[data-clock]")) {
    button.addEventListener("click", () => {
      if (button.dataset.clock !== "play") pause();
      acts[button.dataset.clock]();
    });
  }
  slider.addEventListener("input", () => {
    pause();
    ask();
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("change", () => {
    for (const one of form.querySelectorAll("[data-spot]")) one.hidden = form.elements.place.value !== "spot";
    by("ws-clock-said").textContent = "";
    ask();
  });
  layerSwitch(by("ws-clock-on"), section, (now) => {
    isOn = now;
    layer.replaceChildren();
    if (isOn) ask();
    else pause();
  });
  store.onChange(() => {
    version += 1;
    ask();
  });
}
