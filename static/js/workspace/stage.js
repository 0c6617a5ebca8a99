// The drawing: looks closer, says where on the roof a pointer is, and draws marks over the plan. The plan
// itself comes from the server and is not changed, only its panels are shifted while they are held.

import { Pointer } from "./pointer.js";

const SVG = "http://www.w3.org/2000/svg";

export class Stage {
  constructor(element, plan, roof) {
    Object.assign(this, { element, plan, view: null, layers: [], roofWidth: roof.width });
    this.textSize = Math.max(70, roof.length / 68); // as the plan's own words [mm]
    this.over = this.layer("ws-over");
    this.take(null);
    new Pointer(this);
  }

  // Adds a sheet of glass over the plan that is looked at together with it; the marks stay on top.
  layer(name) {
    const made = this.node("svg", { class: name, "aria-hidden": "true" });
    if (this.over) {
      made.setAttribute("viewBox", this.over.getAttribute("viewBox"));
      this.element.insertBefore(made, this.over);
    } else this.element.append(made);
    this.layers.push(made);
    return made;
  }

  get svg() {
    return this.plan.querySelector("svg");
  }

  // Shows a newly drawn plan at the same place and size.
  take(text) {
    if (text) this.plan.innerHTML = text;
    const [x, y, width, height] = this.svg.getAttribute("viewBox").split(" ").map(Number);
    this.full = { x, y, width, height };
    this.groups = new Map(
      [...this.svg.querySelectorAll("[data-panel], [data-thing]")].map((group) => [
        group.dataset.thing ?? Number(group.dataset.panel),
        group,
      ]),
    );
    this.look(this.view ?? this.full);
    this.element.dispatchEvent(new Event("drawn"));
  }

  look(view) {
    const width = Math.min(Math.max(view.width, 600), this.full.width);
    const height = width * this.tall;
    const clamp = (value, low, span, size) =>
      size > span ? low + (span - size) / 2 : Math.min(Math.max(value, low), low + span - size);
    const x = clamp(view.x, this.full.x, this.full.width, width);
    const y = clamp(view.y, this.full.y, this.full.height, height);
    this.view = width >= this.full.width ? null : { x, y, width, height };
    const box = this.view ?? this.full;
    for (const one of [this.svg, ...this.layers])
      one.setAttribute("viewBox", `${box.x} ${box.y} ${box.width} ${box.height}`);
  }

  // The height of what is shown for one of width: on a narrow screen the stage is taller than the drawing.
  get tall() {
    const drawing = this.full.height / this.full.width;
    const stage = this.element.clientHeight / this.element.clientWidth;
    return stage > 1.05 * drawing ? stage : drawing;
  }

  get shown() {
    return this.view ?? this.full;
  }

  zoom(factor, at) {
    const { x, y, width, height } = this.shown;
    const [cx, cy] = at ?? [x + width / 2, y + height / 2];
    this.look({
      x: cx - (cx - x) * factor,
      y: cy - (cy - y) * factor,
      width: width * factor,
      height: height * factor,
    });
  }

  whole() {
    this.look(this.full);
  }

  // Returns the ways a person walks: points in roof coordinates and half the width asked for [mm].
  ways(width) {
    return [...this.svg.querySelectorAll(".plan-way")].map((way) => ({
      points: way
        .getAttribute("points")
        .split(" ")
        .map((pair) => {
          const [x, y] = pair.split(",").map(Number);
          return [x, this.roofWidth - y];
        }),
      half: width / 2,
    }));
  }

  // Returns where on the drawing a pointer is [mm], y downwards.
  drawn(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [at.x, at.y];
  }

  // The same in roof coordinates: y to the left of the vehicle.
  onRoof(event) {
    const [x, y] = this.drawn(event);
    return { x, y: this.roofWidth - y };
  }

  shift(moves) {
    this.element.classList.toggle("ws-held", Boolean(moves));
    for (const [number, group] of this.groups) {
      const by = moves?.get(number);
      if (by) group.setAttribute("transform", `translate(${by.x} ${-by.y})`);
      else group.removeAttribute("transform");
    }
  }

  // Draws the marks: boxes round what is chosen or wrong, lines that pulled, rings round feet off the
  // rafters, and what the tool in use wants drawn (``more``).
  mark({ boxes = [], guides = null, feet = [], more = [] }) {
    const line = this.shown.width / 500;
    const parts = [];
    for (const { box, kind } of boxes) parts.push(this.frame(box, kind, line));
    parts.push(...this.guideNodes(guides, line));
    for (const [, x, y] of feet)
      parts.push(
        this.node("circle", {
          cx: x,
          cy: this.roofWidth - y,
          r: 62,
          class: "ws-foot-off",
          "stroke-width": line,
        }),
      );
    this.over.replaceChildren(...parts, ...more);
  }

  guideNodes(guides, line) {
    const nodes = [];
    const style = { class: "ws-guide", "stroke-width": line };
    if (guides?.x != null)
      nodes.push(this.node("line", { x1: guides.x, x2: guides.x, y1: 0, y2: this.roofWidth, ...style }));
    if (guides?.y != null) {
      const y = this.roofWidth - guides.y;
      nodes.push(
        this.node("line", { x1: this.full.x, x2: this.full.x + this.full.width, y1: y, y2: y, ...style }),
      );
    }
    return nodes;
  }

  frame(box, kind, line) {
    const grow = { chosen: 22, wrong: 8 }[kind] ?? 0;
    return this.node("rect", {
      x: box.x0 - grow,
      y: this.roofWidth - box.y1 - grow,
      width: box.length + 2 * grow,
      height: box.width + 2 * grow,
      class: `ws-${kind}`,
      "stroke-width": kind === "chosen" ? 2 * line : 2.6 * line,
    });
  }

  node(name, attributes) {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  }
}
