// What the tools on the roof share: the layout, the drawing, the server's last answer, and whose turn it is.

import { by } from "./dom.js";
import { showAnswer, showDetail, showTrouble } from "./side.js";
import { Stage } from "./stage.js";
import { Store } from "./store.js";
import { Live } from "./talk.js";

const REST = 500; // ms of rest before the slower half is asked for
const VIEW = { "+": "closer", "=": "closer", "-": "farther", 0: "whole" };

export class Desk {
  constructor(start, place) {
    Object.assign(this, { start, place, answer: null, tool: null, panels: null, timer: 0 });
    this.parts = new Map(start.parts.map((part) => [part.id, part]));
    this.store = new Store(start);
    this.stage = new Stage(by("ws-stage"), by("ws-plan"), start.roof);
    // A tool answers down, tapAway and key, draws marks, reads the server's answer (answered), and shows
    // itself when the layout changed (show) or its turn comes and goes (activate).
    this.tools = new Map();
    this.live = new Live(place.dataset.live, (got) => this.answered(got), showTrouble);
    this.detail = new Live(place.dataset.detail, showDetail, () => {}); // the slower half, asked for at rest
    this.stage.onDown = (at, event) => this.tool.down(at, event);
    this.stage.onTapAway = () => this.tool.tapAway?.();
  }

  join(name, tool) {
    this.tools.set(name, tool);
    if (name === "panels") this.panels = tool;
  }

  // Gives the pointer and the keys to another tool.
  use(name) {
    this.tool?.activate?.(false);
    this.tool = this.tools.get(name);
    this.tool.activate?.(true);
    const words = document.querySelector(`label[for=ws-hand-${name}]`).textContent.toLowerCase();
    by("ws-stage").setAttribute("aria-label", `Roof, moving: ${words}`);
    for (const one of document.querySelectorAll("[data-hand]")) one.hidden = one.dataset.hand !== name;
    this.showSteps();
    this.marks();
  }

  // --- the server ---

  answered(got) {
    const { shifted } = this.panels;
    if (got.svg) {
      this.stage.take(got.svg);
      this.stage.shift(shifted);
      if (!shifted) this.live.follow(this.store.layout); // now the year of what was drawn
    }
    if (!got.error) this.answer = got;
    showAnswer(got);
    for (const tool of this.tools.values()) tool.answered?.(got);
    this.marks();
    this.place.dataset.answered = String(got.sequence);
  }

  askDetail() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.detail.ask(this.store.layout), REST);
  }

  // --- showing ---

  // Shows the layout anew, everywhere.
  refresh() {
    for (const tool of this.tools.values()) tool.show?.();
    this.panels.choosing();
  }

  marks() {
    const { panels, answer, start, tool } = this;
    const feet = panels?.shifted ? [] : (answer?.feet ?? []).filter(([, , , stands]) => !stands);
    this.stage.mark({
      boxes: panels?.boxes(answer, tool === panels) ?? [],
      guides: panels?.guides,
      feet: start.roof.rafters.length ? feet : [],
      more: tool?.marks?.() ?? [],
    });
  }

  // Says words to a person who does not see the roof.
  tell(words) {
    by("ws-said").textContent = words;
  }

  // The steps back belong to the layout, or to what a tool moves beside it (the photo keeps its own).
  get steps() {
    return this.tool?.steps ?? this.store;
  }

  showSteps() {
    document.querySelector("[data-do=undo]").disabled = !this.steps.past.length;
    document.querySelector("[data-do=redo]").disabled = !this.steps.future.length;
  }

  // --- looking closer: the same for every tool ---

  look(name) {
    if (name === "whole") this.stage.whole();
    else this.stage.zoom(name === "closer" ? 1 / 1.4 : 1.4);
  }

  viewKey(event) {
    if (!(event.key in VIEW) || event.ctrlKey || event.metaKey) return false;
    this.look(VIEW[event.key]);
    return true;
  }
}
