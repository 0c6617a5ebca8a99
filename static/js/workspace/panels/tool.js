// The tool for panels: which are chosen, and moving, adding, aligning and wiring them by pointer, buttons or
// keys.

import { by } from "../dom.js";
import * as edits from "../edits.js";
import { boxOf, panelAt } from "../geometry.js";
import { arrowOf, isPlain, letterOf, nextIn } from "../keys.js";
import { show } from "../lengths.js";
import { holdPanel } from "./drag.js";
import { showForm, watchForm } from "./form.js";
import { showPanels, showWiring } from "./list.js";
import { wrongPanels } from "./wrong.js";

const KEYS = { r: "rotate", d: "duplicate", Delete: "remove", Backspace: "remove" };
const NEEDS = { rotate: 1, duplicate: 1, remove: 1, align: 2, spread: 3 }; // panels an act needs
const GLAND_ROOM = 100; // mm round the gland, as the layout check has it

export class PanelTool {
  constructor(desk) {
    this.desk = desk;
    this.chosen = []; // numbers
    this.shifted = null; // panels being dragged: number -> {x, y}
    this.guides = null;
    const change = (edit) => desk.store.change(edit);
    this.acts = {
      add: () => this.add(),
      rotate: () => change((layout) => edits.rotate(layout, this.chosen)),
      duplicate: () => this.duplicate(),
      remove: () => change((layout) => edits.remove(layout, this.chosen)),
      "spread-along": () => change((layout) => edits.spread(layout, this.chosen, true, desk.parts)),
      "spread-across": () => change((layout) => edits.spread(layout, this.chosen, false, desk.parts)),
    };
    for (const edge of ["rear", "front", "right", "left"]) {
      this.acts[`align-${edge}`] = () =>
        change((layout) => edits.align(layout, this.chosen, edge, desk.parts));
    }
    watchForm(desk.start.units, (name, value) => this.setField(name, value));
  }

  // --- changes ---

  // What a new panel leaves open: the ways to walk, and the gland with its sealant.
  get walkways() {
    const { stage, start, store } = this.desk;
    const gland = store.layout.path?.gland;
    const kept = gland ? [{ points: [gland, gland], half: GLAND_ROOM }] : [];
    return [...stage.ways(start.roof.walkway), ...kept];
  }

  add() {
    const { store, start, parts } = this.desk;
    const part = parts.get(Number(by("ws-part").value));
    let number = null;
    if (part) {
      store.change((layout) => {
        number = edits.add(layout, part, parts, start, this.walkways);
      });
    }
    if (number) this.chosen = [number];
  }

  duplicate() {
    const { store, start, parts } = this.desk;
    let made = [];
    store.change((layout) => {
      made = edits.duplicate(layout, this.chosen, parts, start, this.walkways);
    });
    this.chosen = made;
  }

  wire(label) {
    this.desk.store.change((layout) => {
      if (label === null) edits.unwire(layout, this.chosen);
      else edits.wire(layout, this.chosen, label);
    });
  }

  setField(name, value) {
    this.desk.store.change((layout) => {
      const panel = layout.panels.find((one) => one.number === this.chosen[0]);
      if (value === false && name === "box_far")
        delete panel.box_far; // as the server tells it
      else panel[name] = value;
    });
  }

  // --- pointer and keys ---

  down(at, event) {
    const panel = panelAt(this.desk.store.layout, this.desk.parts, at);
    if (!panel) return null;
    const isSeveral = event.shiftKey || by("ws-several").checked;
    const wasChosen = this.chosen.includes(panel.number);
    if (!wasChosen) this.chosen = isSeveral ? [...this.chosen, panel.number] : [panel.number];
    this.choosing();
    return holdPanel(this, panel, at, { isSeveral, wasChosen });
  }

  tapAway() {
    this.chosen = [];
    this.choosing();
  }

  // Shows the plan's panels moved by so much, as long as they are held.
  shift(moves, guides) {
    Object.assign(this, { shifted: moves, guides });
    this.desk.stage.shift(moves);
    this.desk.marks();
  }

  key(event) {
    const arrow = arrowOf(event, this.desk.start.units);
    const name = letterOf(event);
    if (arrow && this.chosen.length) {
      this.desk.store.change((layout) => edits.move(layout, this.chosen, ...arrow));
    } else if (name === "n" || name === "p") this.next(name === "n" ? 1 : -1, event.shiftKey);
    else if (name === "Escape") this.tapAway();
    else if (name in KEYS && isPlain(event)) this.acts[KEYS[name]]();
    else return this.desk.viewKey(event);
    this.choosing();
    this.say();
    return true;
  }

  next(step, isMore) {
    const numbers = this.desk.store.layout.panels.map((one) => one.number);
    if (!numbers.length) return;
    const number = nextIn(numbers, this.chosen.at(-1), step);
    this.chosen = isMore ? [...this.chosen.filter((one) => one !== number), number] : [number];
  }

  // --- words and marks ---

  // Shows the layout anew after a change.
  show() {
    const { store, stage, parts } = this.desk;
    this.chosen = this.chosen.filter((number) => store.panel(number));
    stage.shift(null);
    showPanels(store.layout, this.chosen, parts, (number, isOn) => {
      this.chosen = this.chosen.filter((one) => one !== number);
      if (isOn) this.chosen.push(number);
      this.choosing();
    });
  }

  // Shows what is chosen, and what can be done with it.
  choosing() {
    const { start, store } = this.desk;
    const { chosen } = this;
    for (const box of by("ws-list").querySelectorAll("input")) {
      box.checked = chosen.includes(Number(box.id.slice(9)));
    }
    showForm(chosen.length === 1 ? store.panel(chosen[0]) : null, start.units);
    showWiring(start.controllers, chosen.length, (label) => this.wire(label));
    for (const button of document.querySelectorAll("[data-do]")) {
      const needs = NEEDS[button.dataset.do.split("-")[0]];
      if (needs) button.disabled = chosen.length < needs;
    }
    this.desk.showSteps();
    this.desk.marks();
  }

  say() {
    const { store, start } = this.desk;
    const place = (number) => {
      const panel = store.panel(number);
      if (!panel) return "";
      const [x, y] = [panel.x_mm, panel.y_mm].map((mm) => show(mm, start.units));
      return `Panel ${number}: ${x} from the rear, ${y} from the right.`;
    };
    this.desk.tell(this.chosen.map(place).join(" "));
  }

  // Returns the boxes to mark: panels a rule blocks, and while this tool is in use the chosen ones.
  boxes(answer, isInUse) {
    const marked = [];
    for (const number of wrongPanels(answer)) marked.push({ box: this.boxNow(number), kind: "wrong" });
    for (const number of isInUse ? this.chosen : []) {
      marked.push({ box: this.boxNow(number), kind: "chosen" });
    }
    return marked.filter((one) => one.box);
  }

  // Returns where a panel lies now, stored or dragged.
  boxNow(number) {
    const panel = this.desk.store.panel(number);
    const box = panel && boxOf(panel, this.desk.parts);
    const step = this.shifted?.get(number);
    if (!box || !step) return box;
    return { ...box, x0: box.x0 + step.x, x1: box.x1 + step.x, y0: box.y0 + step.y, y1: box.y1 + step.y };
  }
}
