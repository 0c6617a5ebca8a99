// The beam every cell loses in a year: a mark that grows with the loss, a legend in numbers, the poorest cell
// named.

import { by, element } from "../dom.js";
import { boxOf } from "../geometry.js";
import { Live } from "../talk.js";
import { CLASSES, countClasses, drawCells, legendMark } from "./heat_draw.js";
import { layerSwitch } from "./layers.js";

const percent = (tenths) => `${(tenths / 10).toFixed(1)}%`;

export class Heat {
  constructor({ store, stage, parts }) {
    Object.assign(this, { store, stage, parts });
    this.isOn = false;
    const section = by("ws-heat");
    this.layer = stage.layer("ws-layer ws-heat");
    this.live = new Live(
      section.dataset.address,
      (got) => this.show(got),
      (words) => this.say(words),
    );
    layerSwitch(by("ws-heat-on"), section, (isOn) => this.switch(isOn));
    store.onChange(() => this.ask());
  }

  switch(isOn) {
    this.isOn = isOn;
    this.stage.element.classList.toggle("ws-heating", isOn);
    this.layer.replaceChildren();
    this.ask();
  }

  ask() {
    if (this.isOn) this.live.ask(this.store.layout);
  }

  say(words) {
    by("ws-heat-words").textContent = words;
  }

  show(got) {
    if (!this.isOn) return;
    for (const place of [this.layer, by("ws-heat-legend"), by("ws-heat-panels")]) place.replaceChildren();
    if (!got.panels?.length) return this.say(got.error || got.reason);
    const onRoof = got.panels.filter((panel) => this.store.panel(panel.number));
    for (const panel of onRoof) {
      const box = boxOf(this.store.panel(panel.number), this.parts);
      this.layer.append(drawCells(this.stage, panel, box, got.poorest));
    }
    const counts = countClasses(onRoof);
    by("ws-heat-legend").replaceChildren(...CLASSES.map((_, place) => this.key(place, counts[place])));
    by("ws-heat-panels").replaceChildren(...got.panels.map(row));
    this.say(summary(got));
  }

  // Returns a line of the legend: the mark, what it means, how many cells have it.
  key(place, count) {
    const line = element("li");
    line.append(
      legendMark(this.stage, place),
      element("span", CLASSES[place].words),
      element("span", `${count} ${count === 1 ? "cell" : "cells"}`, "num muted"),
    );
    return line;
  }
}

function summary({ poorest, place }) {
  if (!poorest) return "No cell loses a tenth of a percent of the year's direct sun.";
  return (
    `Poorest cell: panel ${poorest.panel}, row ${poorest.row} from the right, cell ` +
    `${poorest.column} from the rear. ` +
    `It loses ${percent(poorest.lost)} of the year's direct sun. At ${place}, mean of all parking directions.`
  );
}

function row(panel) {
  const line = element("tr");
  const name = element("th", `Panel ${panel.number}`);
  name.scope = "row";
  const mean = panel.lost.reduce((sum, one) => sum + one, 0) / panel.lost.length;
  line.append(
    name,
    element("td", percent(mean), "end num"),
    element("td", percent(Math.max(...panel.lost)), "end num"),
  );
  return line;
}
