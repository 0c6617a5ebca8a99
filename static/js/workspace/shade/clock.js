// The shade clock: asks for the moment it is set to, plays through a day, finds the worst hour. The server
// works out every moment.

import { by } from "../dom.js";
import { Live } from "../talk.js";
import { drawShadows } from "./clock_draw.js";
import { ClockForm } from "./clock_form.js";
import { clockText, powerRows, shadowWords, sunWords, worstWords } from "./clock_words.js";
import { drawDay } from "./day_chart.js";
import { layerSwitch } from "./layers.js";

const STEP = 15; // minutes
const PACE = 220; // ms a step while it plays, or as fast as the answers come

export class Clock {
  constructor({ store, stage, start }) {
    Object.assign(this, { store, stage, start });
    this.section = by("ws-clock");
    this.form = new ClockForm();
    this.layer = stage.layer("ws-layer ws-shade");
    this.isOn = false;
    this.isPlaying = false;
    this.isWrong = false; // what is set cannot be asked: late answers do not take the words away
    this.version = 0; // grows with the roof, so that its day is asked for again
    this.asked = new Map(); // question -> the day it is about
    this.day = null; // { key, power, bare, elevation, worst }
    this.seek = ""; // "worst-day" or "worst-year" while it is looked for
    this.tick = 0;
    this.tickedAt = 0;
    this.live = new Live(
      this.section.dataset.address,
      (got) => this.answered(got),
      (words) => this.form.say(words),
    );
    this.playOnlyWhereWanted();
    this.watch();
  }

  // Under reduced motion the day is stepped through by button.
  playOnlyWhereWanted() {
    const still = matchMedia("(prefers-reduced-motion: reduce)");
    const obey = () => {
      this.playButton.hidden = still.matches;
      if (still.matches) this.pause();
    };
    still.addEventListener("change", obey);
    obey();
  }

  watch() {
    const acts = {
      earlier: () => this.step(-1),
      later: () => this.step(1),
      play: () => (this.isPlaying ? this.pause() : this.play()),
      "worst-day": () => this.look("worst-day"),
      "worst-year": () => this.look("worst-year"),
    };
    for (const button of this.section.querySelectorAll("[data-clock]")) {
      button.addEventListener("click", () => {
        if (button.dataset.clock !== "play") this.pause();
        acts[button.dataset.clock]();
      });
    }
    const onTime = () => {
      this.pause();
      this.ask();
    };
    const onOther = () => {
      this.say("");
      this.ask();
    };
    this.form.watch(onTime, onOther);
    layerSwitch(by("ws-clock-on"), this.section, (isOn) => this.switch(isOn));
    this.store.onChange(() => {
      this.version += 1;
      this.ask();
    });
  }

  get playButton() {
    return this.section.querySelector("[data-clock=play]");
  }

  switch(isOn) {
    this.isOn = isOn;
    this.layer.replaceChildren();
    if (isOn) this.ask();
    else this.pause();
  }

  say(words) {
    by("ws-clock-said").textContent = words;
  }

  // --- question and answer ---

  // Returns what a day depends on, as one text.
  keyOf({ minute, ...rest }) {
    return JSON.stringify([rest, this.version]);
  }

  ask() {
    if (!this.isOn) return;
    const clock = this.form.settings();
    this.form.slider.setAttribute("aria-valuetext", clockText(clock.minute));
    by("ws-clock-time").textContent = clockText(clock.minute);
    this.isWrong = !this.form.check(clock);
    if (this.isWrong) return this.pause();
    const key = this.keyOf(clock);
    const wants = this.day?.key === key ? [] : ["day"];
    if (this.seek === "worst-year") wants.push("worst_year");
    this.asked.set(this.live.sequence + 1, key);
    this.live.ask(this.store.layout, false, { clock: { ...clock, wants } });
  }

  answered(got) {
    let key = this.takeKey(got.sequence);
    if (this.isWrong) return;
    this.form.say(got.error || got.reason || "");
    if (!got.moment) {
      this.pause();
      this.seek = "";
      return;
    }
    if (got.stops?.length && this.form.offerStops(got.stops, got.place.key)) {
      key = this.keyOf(this.form.settings());
    }
    if (got.day) this.day = { key, ...got.day };
    const { value } = this.form.slider;
    this.show(got);
    if (this.form.slider.value !== value) return this.ask(); // the day is shorter than the hour that was set
    if (this.seek) this.found(got);
    if (this.isPlaying) {
      const rest = Math.max(0, PACE - (performance.now() - this.tickedAt));
      this.tick = setTimeout(() => this.next(), rest);
    }
  }

  // Returns which day a question was about, and forgets it and the older ones.
  takeKey(sequence) {
    const key = this.asked.get(sequence);
    for (const one of [...this.asked.keys()]) if (one <= sequence) this.asked.delete(one);
    return key;
  }

  show(got) {
    const { stage, start, form } = this;
    by("ws-clock-sun").textContent = sunWords(got, start.units);
    by("ws-power").replaceChildren(...powerRows(stage, got.moment));
    by("ws-in-shade").textContent = shadowWords(got.moment);
    drawShadows(stage, this.layer, got.moment, form.settings().heading, start.roof);
    if (this.day) drawDay(stage, this.day, form.slider);
  }

  // --- the worst hour ---

  look(what) {
    this.pause();
    this.seek = what;
    this.say("Looking …");
    this.ask();
  }

  found(got) {
    if (this.seek === "worst-day") {
      if (this.day?.key === this.keyOf(this.form.settings())) this.land(this.day.worst, "this day");
    } else if ("worst_year" in got) this.land(got.worst_year, this.form.fields.date.value.slice(0, 4));
  }

  land(hour, when) {
    this.seek = "";
    this.say(worstWords(hour, when));
    if (!hour) return;
    this.form.set(hour);
    this.ask();
  }

  // --- time ---

  step(count) {
    this.form.move(count * STEP);
    this.ask();
  }

  next() {
    if (!this.isPlaying) return;
    if (this.form.isAtEnd) return this.pause();
    this.tickedAt = performance.now();
    this.step(1);
  }

  play() {
    if (this.form.isAtEnd) this.form.toStart();
    this.isPlaying = true;
    this.playButton.textContent = "Stop";
    this.tickedAt = performance.now();
    this.ask();
  }

  pause() {
    this.isPlaying = false;
    clearTimeout(this.tick);
    this.playButton.textContent = "Play the day";
  }
}
