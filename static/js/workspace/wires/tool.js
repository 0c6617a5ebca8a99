// The tool for wire paths: gland, combiners, leads and home runs, by tapping, dragging, keys or numbers.

import { by, pickLine } from "../dom.js";
import { arrowOf, isPlain, letterOf, nextIn } from "../keys.js";
import { show, stepsOf } from "../lengths.js";
import { NumberForm } from "../number_form.js";
import { pulled, takeHold } from "./drag.js";
import { lengthOf } from "./lines.js";
import { wireMarks } from "./marks.js";
import {
  addBend,
  bendHalfWay,
  LIMITS,
  placePoint,
  pointsOf,
  removePoint,
  setBends,
  wiresOf,
} from "./route.js";
import { offer, showSizes } from "./words.js";

const isNode = (what) => what === "gland" || what.startsWith("combiner");

export class WireTool {
  constructor(desk) {
    this.desk = desk;
    this.chosen = null; // id of a point
    this.tried = null; // the layout while a point is held
    this.isDrawing = false;
    for (const button of document.querySelectorAll("[data-wire-do]")) {
      button.addEventListener("click", () => {
        this.act(button.dataset.wireDo);
        this.show();
      });
    }
    this.numbers = new NumberForm(by("ws-wire-form"), {
      units: desk.start.units,
      limits: LIMITS,
      wrong: by("ws-wire-wrong"),
      set: (name, value) => this.setNumber(name, value),
    });
  }

  points(layout = this.desk.store.layout) {
    return pointsOf(layout, this.desk.parts);
  }

  // Returns the chosen point as it lies now, under the pointer or stored.
  point() {
    return this.points(this.tried ?? this.desk.store.layout).find((one) => one.id === this.chosen);
  }

  mayMove(id) {
    return id !== "gland" || !this.desk.start.things.locked;
  }

  choose(id) {
    this.chosen = id;
    this.show();
    const one = this.point();
    if (!one) return;
    const [x, y] = one.at.map((mm) => show(mm, this.desk.start.units));
    this.desk.tell(`${one.words}: ${x} from the rear, ${y} from the right.`);
  }

  // --- the pointer ---

  down(at) {
    return takeHold(this, at);
  }

  tapAway() {
    this.choose(null);
  }

  drawAt(at) {
    const { desk } = this;
    const what = by("ws-wire-what").value;
    const rest = pulled(desk, at, what, false);
    if (!this.mayMove(what)) return;
    desk.store.change((layout) => {
      if (isNode(what)) placePoint(layout, what, rest.x, rest.y, desk.parts);
      else this.chosen = addBend(layout, what, rest, desk.parts) ?? this.chosen;
    });
    if (isNode(what)) {
      this.draw(false);
      this.chosen = what;
    }
    this.choose(this.chosen);
  }

  draw(isOn) {
    this.isDrawing = isOn;
    by("ws-wire-draw").setAttribute("aria-pressed", String(isOn));
    by("ws-stage").classList.toggle("ws-drawing", isOn);
  }

  // --- buttons, keys, numbers ---

  act(name) {
    if (name === "draw") this.draw(!this.isDrawing);
    else if (name === "add") this.add();
    else if (name === "remove") this.remove();
    else this.straighten();
  }

  // Adds what is chosen in the list at a usual place: beside the gland, the middle of the roof, half way.
  add() {
    const { store, start, parts } = this.desk;
    const what = by("ws-wire-what").value;
    if (!this.mayMove(what)) return;
    const { gland } = store.layout.path;
    const middle = [start.roof.length / 2, start.roof.width / 2];
    const beside = gland ? [gland[0] - 2 * stepsOf(this.desk.start.units).far, gland[1]] : middle;
    let id = what;
    store.change((layout) => {
      if (isNode(what)) placePoint(layout, what, ...(what === "gland" ? middle : beside), parts);
      else id = bendHalfWay(layout, what, parts);
    });
    this.choose(id);
  }

  remove() {
    const { store, parts } = this.desk;
    const id = this.chosen;
    if (id && this.mayMove(id)) store.change((layout) => removePoint(layout, id, parts));
  }

  straighten() {
    const { store, parts } = this.desk;
    const what = by("ws-wire-what").value;
    store.change((layout) => {
      if (wiresOf(layout, parts).some((one) => one.id === what)) setBends(layout, what, []);
    });
  }

  key(event) {
    const name = letterOf(event);
    const arrow = arrowOf(event, this.desk.start.units);
    if (name === "n" || name === "p") this.next(name === "n" ? 1 : -1);
    else if (name === "Escape") {
      this.draw(false);
      this.choose(null);
    } else if (arrow && this.point()) this.nudge(arrow);
    else if (name === "b" && isPlain(event)) this.add();
    else if (name === "Delete" || name === "Backspace") this.remove();
    else return this.desk.viewKey(event);
    this.choose(this.chosen);
    return true;
  }

  nudge([x, y]) {
    const { store, parts } = this.desk;
    const { at } = this.point();
    const id = this.chosen;
    if (this.mayMove(id)) store.change((layout) => placePoint(layout, id, at[0] + x, at[1] + y, parts));
  }

  next(step) {
    const ids = this.points().map((one) => one.id);
    if (ids.length) this.chosen = nextIn(ids, this.chosen, step);
  }

  setNumber(name, value) {
    this.desk.store.change((layout) => {
      if (name === "slack") layout.path.slack = Math.round(value * 1000) / 1000;
      else {
        const [x, y] = this.point().at;
        placePoint(layout, this.chosen, name === "x" ? value : x, name === "y" ? value : y, this.desk.parts);
      }
    });
  }

  // --- words and marks ---

  show() {
    const { path } = this.desk.store.layout;
    const one = this.point();
    if (!one) this.chosen = null;
    offer(this.desk);
    by("ws-wire-list").replaceChildren(...this.points().map((point) => this.line(point)));
    by("ws-wire-none").hidden = Object.keys(path.combiners).length > 0;
    by("ws-wire-point").hidden = !one;
    if (one) by("ws-wire-name").textContent = one.words;
    const place = one ? { x: one.at[0], y: one.at[1] } : {};
    this.numbers.show(this.chosen ?? "", { slack: path.slack, ...place });
    for (const button of document.querySelectorAll("[data-wire-do=remove]")) {
      button.disabled = !one || !this.mayMove(this.chosen);
    }
    this.desk.marks();
  }

  line({ id, words }) {
    return pickLine(words, id === this.chosen, () => {
      this.choose(id);
      by("ws-wire-list").querySelector("[aria-pressed=true]")?.focus();
    }).line;
  }

  marks() {
    const { desk, tried } = this;
    const one = tried && this.point();
    if (one?.wire) desk.tell(`${one.wire.words}: ${show(lengthOf(one.wire), desk.start.units)} drawn.`);
    return wireMarks(desk, tried ?? desk.store.layout, this.chosen, Boolean(tried));
  }

  answered(answer) {
    showSizes(answer);
  }

  activate(isOn) {
    by("ws-stage").classList.toggle("ws-on-wires", isOn);
    if (!isOn) this.draw(false);
  }
}
