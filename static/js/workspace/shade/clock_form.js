// What the shade clock is set to: place, day, heading and minute, read from its form and checked.

import { by } from "../dom.js";

const POINTS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split(" ");
const CHECKED = ["latitude", "longitude", "date"];

const numberIn = (field) => (field.value.trim() === "" ? Number.NaN : Number(field.value.replace(",", ".")));

export class ClockForm {
  constructor() {
    this.form = by("ws-clock-form");
    this.slider = by("ws-clock-minute");
    this.offerHeadings();
    const today = new Date(Date.now() - 60000 * new Date().getTimezoneOffset());
    this.fields.date.value = today.toISOString().slice(0, 10);
    this.slider.value = 12 * 60;
  }

  get fields() {
    return this.form.elements;
  }

  offerHeadings() {
    for (let turn = 0; turn < 360; turn += 15) {
      const point = turn % 22.5 === 0 || turn % 45 === 0 ? ` ${POINTS[turn / 22.5]}` : "";
      this.fields.heading.append(new Option(`${turn}°${point}`, turn, turn === 180, turn === 180));
    }
  }

  // ``onTime`` is called when the slider moves, ``onOther`` when anything else changes.
  watch(onTime, onOther) {
    this.slider.addEventListener("input", onTime);
    this.form.addEventListener("submit", (event) => event.preventDefault());
    this.form.addEventListener("change", () => {
      for (const one of this.form.querySelectorAll("[data-spot]")) one.hidden = !this.isSpot;
      onOther();
    });
  }

  // Whether a spot is given by numbers instead of a stop of the travel plan.
  get isSpot() {
    return this.fields.place.value === "spot";
  }

  settings() {
    const { place, latitude, longitude, date, heading } = this.fields;
    const { isSpot } = this;
    const spot = isSpot ? { latitude: numberIn(latitude), longitude: numberIn(longitude) } : {};
    return {
      stop: isSpot ? "" : place.value,
      ...spot,
      date: date.value,
      heading: Number(heading.value),
      minute: Number(this.slider.value),
    };
  }

  // Says which value cannot be, and keeps it as typed; true when all can.
  check(clock) {
    const bad = wrongOf(clock);
    for (const name of CHECKED) {
      this.fields[name].classList.toggle(
        "is-invalid",
        bad.some(([one]) => one === name),
      );
    }
    this.say(bad.map(([, words]) => words).join(" "));
    return !bad.length;
  }

  say(words) {
    by("ws-clock-wrong").textContent = words;
  }

  // Puts the places of the travel plan in, once; the one that was answered is the one chosen.
  offerStops(stops, key) {
    const { place } = this.fields;
    if (place.options.length > 2) return false;
    const { value } = place;
    const spot = place.options[place.options.length - 1];
    for (const one of stops) place.insertBefore(new Option(one.name, one.key), spot);
    place.options[0].remove();
    place.value = value || key;
    return true;
  }

  // Sets an hour that may lie outside the hours of light shown so far.
  set({ date, minute }) {
    this.fields.date.value = date;
    this.slider.min = Math.min(this.slider.min, minute);
    this.slider.max = Math.max(this.slider.max, minute);
    this.slider.value = minute;
  }

  get isAtEnd() {
    return Number(this.slider.value) >= Number(this.slider.max);
  }

  toStart() {
    this.slider.value = this.slider.min;
  }

  move(minutes) {
    this.slider.value = Number(this.slider.value) + minutes;
  }
}

function wrongOf(clock) {
  const bad = [];
  if ("latitude" in clock && !(Math.abs(clock.latitude) <= 90))
    bad.push(["latitude", "Latitude: must be a number from -90 to 90 °."]);
  if ("longitude" in clock && !(Math.abs(clock.longitude) <= 180))
    bad.push(["longitude", "Longitude: must be a number from -180 to 180 °."]);
  if (!clock.date) bad.push(["date", "Day: must be a day from 1950 to 2100."]);
  return bad;
}
