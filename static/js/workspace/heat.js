// The beam every cell loses in a year: a mark that grows with the loss, a legend in numbers, the poorest cell named.

import { boxOf } from "./geometry.js";
import { layerSwitch } from "./layers.js";
import { element } from "./side.js";
import { Live } from "./talk.js";

const by = (id) => document.getElementById(id);
// From how many tenths of a percent on, size of the mark as a share of the cell, words.
const CLASSES = [
  { from: 0, size: 0, words: "under 0.5%" },
  { from: 5, size: 0.24, words: "0.5 to 2%" },
  { from: 20, size: 0.42, words: "2 to 5%" },
  { from: 50, size: 0.6, words: "5 to 10%" },
  { from: 100, size: 0.78, words: "10 to 20%" },
  { from: 200, size: 0.94, words: "20% and more" },
];
const classOf = (lost) => CLASSES.findLastIndex((one) => lost >= one.from);
const percent = (tenths) => `${(tenths / 10).toFixed(1)}%`;

export function openHeat({ store, stage, parts, start }) {
  const section = by("ws-heat");
  const layer = stage.layer("ws-layer ws-heat");
  const live = new Live(section.dataset.address, show, (words) => say(words));
  let isOn = false;

  function say(words) {
    by("ws-heat-words").textContent = words;
  }

  function show(got) {
    if (!isOn) return;
    layer.replaceChildren();
    by("ws-heat-legend").replaceChildren();
    by("ws-heat-panels").replaceChildren();
    if (!got.panels?.length) return say(got.error || got.reason);
    const counts = CLASSES.map(() => 0);
    for (const panel of got.panels) {
      const at = store.panel(panel.number);
      if (at) layer.append(cells(panel, boxOf(at, parts), counts, got.poorest));
    }
    by("ws-heat-legend").replaceChildren(...CLASSES.map((one, place) => key(one, place, counts[place])));
    by("ws-heat-panels").replaceChildren(...got.panels.map(row));
    const { poorest } = got;
    say(
      poorest
        ? `Poorest cell: panel ${poorest.panel}, row ${poorest.row} from the right, cell ${poorest.column} from the rear. ` +
            `It loses ${percent(poorest.lost)} of the year's direct sun. At ${got.place}, mean of all parking directions.`
        : "No cell loses a tenth of a percent of the year's direct sun.",
    );
  }

  function cells(panel, box, counts, poorest) {
    const group = stage.node("g", {});
    const rows = panel.lost.length / panel.columns;
    const [long, wide] = [
      (box.length - 2 * panel.margin_mm) / panel.columns,
      (box.width - 2 * panel.margin_mm) / rows,
    ];
    const least = Math.min(long, wide);
    panel.lost.forEach((lost, spot) => {
      const kind = classOf(lost);
      counts[kind] += 1;
      const x = box.x0 + panel.margin_mm + ((spot % panel.columns) + 0.5) * long;
      const y =
        start.roof.width - (box.y0 + panel.margin_mm + (Math.floor(spot / panel.columns) + 0.5) * wide);
      const side = CLASSES[kind].size * least;
      if (side)
        group.append(
          stage.node("rect", {
            x: x - side / 2,
            y: y - side / 2,
            width: side,
            height: side,
            class: `ws-heat-${kind}`,
          }),
        );
      const { row, column } = poorest ?? {};
      if (panel.number === poorest?.panel && spot === (row - 1) * panel.columns + column - 1) {
        group.append(
          stage.node("circle", {
            cx: x,
            cy: y,
            r: 0.72 * least,
            class: "ws-heat-poorest",
            "stroke-width": least / 12,
          }),
        );
      }
    });
    group.append(numberOn(panel.number, box));
    return group;
  }

  function numberOn(number, box) {
    const size = Math.max(70, start.roof.length / 68) * 1.3;
    const word = stage.node("text", {
      x: (box.x0 + box.x1) / 2,
      y: start.roof.width - (box.y0 + box.y1) / 2,
      class: "ws-heat-number",
      "font-size": size,
      "stroke-width": size / 4,
      "text-anchor": "middle",
      dy: "0.35em",
    });
    word.textContent = number;
    return word;
  }

  function key(one, place, count) {
    const line = element("li");
    const svg = stage.node("svg", { class: "ws-heat-key", viewBox: "0 0 20 20", "aria-hidden": "true" });
    const side = 20 * one.size;
    svg.append(stage.node("rect", { x: 0.5, y: 0.5, width: 19, height: 19, class: "ws-heat-cell" }));
    if (side)
      svg.append(
        stage.node("rect", {
          x: 10 - side / 2,
          y: 10 - side / 2,
          width: side,
          height: side,
          class: `ws-heat-${place}`,
        }),
      );
    line.append(
      svg,
      element("span", one.words),
      element("span", `${count} ${count === 1 ? "cell" : "cells"}`, "num muted"),
    );
    return line;
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

  layerSwitch(by("ws-heat-on"), section, (now) => {
    isOn = now;
    stage.element.classList.toggle("ws-heating", isOn);
    layer.replaceChildren();
    if (isOn) live.ask(store.layout);
  });
  store.onChange(() => {
    if (isOn) live.ask(store.layout);
  });
}
