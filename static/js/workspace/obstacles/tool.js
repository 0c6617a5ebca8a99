// The tool for obstacles on the roof: add, draw, move, turn, resize, take off. They belong to the vehicle's
// survey.

import { by, element, pickLine } from "../dom.js";
import { boxOf, freePlace } from "../geometry.js";
import { arrowOf, isPlain, letterOf, nextIn } from "../keys.js";
import { show, stepsOf } from "../lengths.js";
import { NumberForm } from "../number_form.js";
import { dragObstacle, drawBox, obstacleAt } from "./drag.js";
import { keepClearOf, move, newObstacle, obstacleBox, turn } from "./shape.js";

const KEYS = { r: "turn", d: "copy", Delete: "remove", Backspace: "remove" };

export class ObstacleTool {
  constructor(desk) {
    const { start, store } = desk;
    this.desk = desk;
    this.limits = start.things.limits;
    this.kinds = new Map(start.things.kinds.map((one) => [one.kind, one]));
    this.chosen = null; // key
    this.shifted = null; // the obstacle being dragged: key -> {x, y}
    this.guides = null;
    this.drawing = null; // null, "armed", or the box being drawn
    Object.defineProperty(start, "obstacles", { get: () => keepClearOf(store.layout.obstacles) });
    this.acts = {
      add: () => this.add(),
      draw: () => this.arm(!this.drawing),
      turn: () => this.edit(turn),
      copy: () => this.copy(),
      remove: () => this.remove(),
    };
    this.watch();
    this.numbers = new NumberForm(by("ws-thing-form"), {
      units: start.units,
      limits: this.limits,
      wrong: by("ws-thing-wrong"),
      set: (name, value) => this.edit((one) => Object.assign(one, { [name]: value })),
    });
  }

  watch() {
    for (const button of document.querySelectorAll("[data-thing-do]")) {
      button.addEventListener("click", () => {
        this.acts[button.dataset.thingDo]();
        this.show();
      });
    }
    by("ws-kind").addEventListener("change", () => this.show());
  }

  get isLocked() {
    return Boolean(this.desk.start.things.locked);
  }

  obstacle(layout = this.desk.store.layout) {
    return layout.obstacles.find((one) => one.key === this.chosen);
  }

  nameOf(one) {
    return one.label || this.kinds.get(one.kind).name;
  }

  // --- changes ---

  edit(change) {
    this.desk.store.change((layout) => change(this.obstacle(layout)));
  }

  insert(made) {
    this.desk.store.change((layout) => {
      layout.obstacles.push(made);
      layout.obstacles.sort((one, other) => (one.key < other.key ? -1 : 1));
    });
    this.choose(made.key);
  }

  fresh(size = {}) {
    return newObstacle(this.kinds.get(by("ws-kind").value), size);
  }

  add() {
    const { store, start, parts } = this.desk;
    const { panels, obstacles } = store.layout;
    const made = this.fresh();
    const taken = [...panels.map((one) => boxOf(one, parts)), ...obstacles.map(obstacleBox)];
    const { x, y } = freePlace(obstacleBox(made), taken, { ...start, obstacles: [] });
    this.insert({ ...made, x_mm: Math.max(0, x), y_mm: Math.max(0, y) });
  }

  copy() {
    const made = { ...this.obstacle(), key: crypto.randomUUID() };
    const { far } = stepsOf(this.desk.start.units);
    move(made, far, far, this.limits);
    this.insert(made);
  }

  remove() {
    this.desk.store.change((layout) => {
      layout.obstacles = layout.obstacles.filter((one) => one.key !== this.chosen);
    });
  }

  choose(key) {
    this.chosen = key;
    this.show();
    const one = this.obstacle();
    if (!one) return;
    const [x, y] = [one.x_mm, one.y_mm].map((mm) => show(mm, this.desk.start.units));
    this.desk.tell(`${this.nameOf(one)}: ${x} from the rear, ${y} from the right.`);
  }

  // --- pointer and keys ---

  down(at) {
    if (this.drawing) return drawBox(this, at, (size) => this.insert(this.fresh(size)));
    const found = this.isLocked ? null : obstacleAt(this.desk, at);
    if (!found) return null;
    this.choose(found.key);
    return dragObstacle(this, found, at);
  }

  tapAway() {
    this.choose(null);
  }

  // Shows the plan's obstacles moved by so much, as long as one is held.
  shift(moves, guides) {
    Object.assign(this, { shifted: moves, guides });
    this.desk.stage.shift(moves);
    this.desk.marks();
  }

  arm(isOn) {
    this.drawing = isOn ? "armed" : null;
    by("ws-thing-draw").setAttribute("aria-pressed", String(isOn));
    by("ws-stage").classList.toggle("ws-drawing", isOn);
    this.desk.marks();
  }

  key(event) {
    const name = letterOf(event);
    const arrow = arrowOf(event, this.desk.start.units);
    if (name === "n" || name === "p") this.next(name === "n" ? 1 : -1);
    else if (name === "Escape") {
      this.arm(false);
      this.choose(null);
    } else if (this.isLocked || !this.obstacle()) return this.desk.viewKey(event);
    else if (arrow) this.edit((one) => move(one, ...arrow, this.limits));
    else if (name in KEYS && isPlain(event)) this.acts[KEYS[name]]();
    else return this.desk.viewKey(event);
    this.choose(this.obstacle() ? this.chosen : null);
    return true;
  }

  inOrder() {
    const { obstacles } = this.desk.store.layout;
    return obstacles.toSorted((one, other) => one.x_mm - other.x_mm || one.y_mm - other.y_mm);
  }

  next(step) {
    const keys = this.inOrder().map((one) => one.key);
    if (keys.length) this.chosen = nextIn(keys, this.chosen, step);
  }

  // --- words and marks ---

  show() {
    const one = this.obstacle();
    if (!one) this.chosen = null;
    by("ws-thing-list").replaceChildren(...this.inOrder().map((each) => this.line(each)));
    by("ws-thing-none").hidden = this.desk.store.layout.obstacles.length > 0;
    by("ws-thing-form").hidden = !one;
    for (const button of document.querySelectorAll("[data-thing-do]")) {
      button.disabled = this.isLocked || (!one && !["add", "draw"].includes(button.dataset.thingDo));
    }
    if (one) {
      by("ws-thing-name").textContent = this.nameOf(one);
      const notes = [this.kinds.get(one.kind).note, this.overEdge(one)];
      by("ws-thing-note").textContent = notes.filter(Boolean).join(" ");
      this.numbers.show(one.key, one);
    }
    this.desk.marks();
  }

  overEdge(one) {
    const { roof, units } = this.desk.start;
    const box = obstacleBox(one);
    return [
      ["front", box.x1 - roof.length],
      ["left", box.y1 - roof.width],
    ]
      .filter(([, mm]) => mm > 5)
      .map(([edge, mm]) => `It reaches ${show(mm, units)} over the ${edge} edge of the flat roof.`)
      .join(" ");
  }

  line(one) {
    const { line, button } = pickLine(this.nameOf(one), one.key === this.chosen, () => {
      this.choose(one.key);
      const place = this.inOrder().findIndex((other) => other.key === this.chosen);
      by("ws-thing-list").querySelectorAll("button")[place]?.focus();
    });
    const state = `${one.removed ? ", removed in this job" : ""}${one.guess ? ", a guess" : ""}`;
    const height = show(one.height_mm, this.desk.start.units);
    button.append(element("span", ` ${height} high${state}`, "muted"));
    return line;
  }

  marks() {
    const { stage } = this.desk;
    const width = stage.shown.width / 500;
    const nodes = [];
    const one = this.obstacle();
    if (one) {
      const { x, y } = this.shifted?.get(one.key) ?? { x: 0, y: 0 };
      const box = obstacleBox(one);
      nodes.push(stage.frame({ ...box, x0: box.x0 + x, y1: box.y1 + y }, "chosen", width));
    }
    if (this.drawing && this.drawing !== "armed") nodes.push(stage.frame(this.drawing, "drawn", width));
    return [...nodes, ...stage.guideNodes(this.guides, width)];
  }

  activate(isOn) {
    if (!isOn) this.arm(false);
  }
}
