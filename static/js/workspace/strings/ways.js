// The strings as they are, other ways to wire the same panels, and taking one as a single step.

import { by, element } from "../dom.js";
import { sample } from "../shade/layers.js";
import { same } from "../store.js";
import { Live } from "../talk.js";
import { basis, headline, listed, wayLine } from "./way_words.js";
import { Worth } from "./worth.js";

const placed = ({ strings, ...rest }) => structuredClone(rest);

export class Ways {
  constructor({ store, stage }) {
    Object.assign(this, { store, stage });
    this.shown = null; // the answer, and where everything lay then
    this.asking = null;
    this.live = new Live(
      by("ws-strings-by-hand").dataset.address,
      (got) => this.show(got),
      (words) => this.fail(words),
    );
    this.worth = new Worth(() => {
      if (this.shown) this.tell();
    });
    by("ws-ways-ask").addEventListener("click", () => this.ask());
    store.onChange(() => this.changed());
    // colors and patterns are read from the plan
    stage.element.addEventListener("drawn", () => this.showOwn());
    this.showOwn();
  }

  // Lists the strings as they are wired now.
  showOwn() {
    const { strings } = this.store.layout;
    by("ws-no-string").hidden = strings.length > 0;
    by("ws-own-strings").replaceChildren(
      ...strings.map((one, place) => {
        const line = element("li");
        line.append(
          sample(this.stage, one.panels[0]),
          element("span", `String ${place + 1} on ${one.controller}: ${listed(one.panels)}`),
        );
        return line;
      }),
    );
  }

  changed() {
    this.showOwn();
    if (!this.shown) return;
    // only the wiring changed: compare anew
    if (same(this.shown.placed, placed(this.store.layout))) return this.ask();
    this.clear();
    by("ws-ways-said").textContent = "The roof changed since. Look again.";
  }

  ask() {
    this.asking = placed(this.store.layout);
    by("ws-ways-ask").disabled = true;
    by("ws-ways-said").textContent = "Trying every wiring that passes the string rules …";
    this.live.ask(this.store.layout);
  }

  fail(words) {
    by("ws-ways-ask").disabled = false;
    by("ws-ways-said").textContent = words;
  }

  show(got) {
    by("ws-ways-ask").disabled = false;
    if (got.error || got.reason) {
      this.clear();
      return this.fail(got.error || got.reason);
    }
    this.shown = { ...got, placed: this.asking };
    this.worth.offer(got.worth);
    this.tell();
  }

  clear() {
    this.shown = null;
    by("ws-ways").replaceChildren();
    by("ws-blame").hidden = true;
    by("ws-ways-basis").hidden = true;
  }

  tell() {
    const { own, ways, tried } = this.shown;
    by("ws-ways-said").textContent = headline(this.shown);
    by("ws-blame").hidden = !own?.blame;
    by("ws-blame").textContent = own?.blame ?? "";
    const money = (kwh) => this.worth.words(kwh);
    by("ws-ways").replaceChildren(...ways.map((way) => wayLine(way, money, () => this.take(way))));
    by("ws-ways-basis").hidden = !tried;
    by("ws-ways-basis").textContent = basis(this.shown);
  }

  take(way) {
    this.store.change((layout) => {
      layout.strings = structuredClone(way.strings);
    });
    by("ws-ways-ask").focus();
  }
}
