// The tool for strings: panels tapped, or slid over, one after the other; or by keys. Finishing is one step.

import { by } from "../dom.js";
import * as edits from "../edits.js";
import { boxOf, panelAt } from "../geometry.js";
import { letterOf, nextIn } from "../keys.js";
import { growingMarks } from "./marks.js";

export class StringTool {
  constructor(desk) {
    this.desk = desk;
    this.growing = []; // numbers of the panels, in order
    this.at = null; // the panel the keys stand on
    for (const label of desk.start.controllers) {
      by("ws-string-on").append(new Option(`Controller ${label}`, label));
    }
    this.acts = {
      finish: () => this.finish(),
      round: () => this.reverse(),
      unwire: () => this.unwire(),
      forget: () => this.forget(),
    };
    for (const button of document.querySelectorAll("[data-string-do]")) {
      button.addEventListener("click", () => this.acts[button.dataset.stringDo]());
    }
  }

  has(number) {
    return this.desk.store.layout.panels.some((one) => one.number === number);
  }

  panelAt(spot) {
    return panelAt(this.desk.store.layout, this.desk.parts, spot)?.number;
  }

  // --- the string as it grows ---

  add(number) {
    this.growing.push(number);
    this.at = number;
    this.tell(`Panel ${number} is number ${this.growing.length}.`);
  }

  toggle(number) {
    if (!this.growing.includes(number)) return this.add(number);
    this.growing = this.growing.filter((one) => one !== number);
    this.tell(`Panel ${number} is taken out.`);
  }

  finish() {
    const label = by("ws-string-on").value;
    if (!this.growing.length || !label) return;
    const made = this.taken();
    this.desk.store.change((layout) => edits.wire(layout, made, label));
    this.tell(`String of panels ${made.join(", ")} on controller ${label}.`);
  }

  reverse() {
    this.growing.reverse();
    this.tell(`Reversed: ${this.growing.join(", ")}.`);
  }

  unwire() {
    const gone = this.taken();
    this.desk.store.change((layout) => edits.unwire(layout, gone));
    this.tell(`Panels ${gone.join(", ")} are not in a string.`);
  }

  forget() {
    this.growing = [];
    this.tell("Nothing is chosen.");
  }

  // Returns the panels of the growing string and begins a new one.
  taken() {
    const { growing } = this;
    this.growing = [];
    return growing;
  }

  tell(words) {
    this.desk.tell(words);
    this.show();
    this.desk.marks();
  }

  // --- pointer and keys ---

  down(spot) {
    const first = this.panelAt(spot);
    if (first === undefined) return null;
    return {
      tap: () => this.toggle(first),
      move: (_event, to) => {
        if (!this.growing.includes(first)) this.add(first);
        const over = this.panelAt(to);
        if (over !== undefined && !this.growing.includes(over)) this.add(over);
      },
    };
  }

  key(event) {
    const name = letterOf(event);
    if (name === "n" || name === "p") this.next(name === "n" ? 1 : -1);
    else if (name === " ") {
      if (this.at !== null) this.toggle(this.at);
    } else if (name === "Enter") this.finish();
    else if (name === "Backspace") {
      if (this.growing.length) this.toggle(this.growing.at(-1));
    } else if (name === "Escape") this.forget();
    else return this.desk.viewKey(event);
    return true;
  }

  next(step) {
    const all = this.desk.store.layout.panels.map((one) => one.number);
    if (!all.length) return;
    this.at = nextIn(all, this.at, step);
    this.tell(`Panel ${this.at}.`);
  }

  // --- words and marks ---

  show() {
    this.growing = this.growing.filter((number) => this.has(number));
    if (!this.has(this.at)) this.at = null;
    by("ws-string-growing").textContent = this.growing.length
      ? `${this.growing.join(" → ")}. Tap the next panel, or finish.`
      : "Tap panels in the order of the string, or slide over them.";
    for (const button of document.querySelectorAll("[data-string-do]")) {
      const lacksController = button.dataset.stringDo === "finish" && !by("ws-string-on").value;
      button.disabled = !this.growing.length || lacksController;
    }
  }

  marks() {
    const { stage, store, parts } = this.desk;
    const box = (number) => boxOf(store.panel(number), parts);
    // Marks may be asked for before the roof is looked at anew.
    const boxes = this.growing.filter((number) => this.has(number)).map(box);
    const cursor = this.has(this.at) ? box(this.at) : null;
    return growingMarks(stage, boxes, cursor);
  }

  activate(isOn) {
    if (!isOn) this.growing = [];
    this.show();
  }
}
