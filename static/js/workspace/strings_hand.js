// Strings under the hand: panels tapped, or slid over, one after the other; or by keys. Finishing is one step.

import * as edits from "./edits.js";
import { boxOf } from "./geometry.js";

export function joinStrings(desk) {
  const { by, parts, start, store, stage } = desk;
  let growing = []; // numbers of the panels, in order
  let at = null; // the panel the keys stand on

  const has = (number) => store.layout.panels.some((one) => one.number === number);
  const numbers = () => store.layout.panels.map((one) => one.number);

  for (const label of start.controllers) by("ws-string-on").append(new Option(`Controller ${label}`, label));

  function hit({ x, y }) {
    return store.layout.panels.findLast((panel) => {
      const box = boxOf(panel, parts);
      return x >= box.x0 && x <= box.x1 && y >= box.y0 && y <= box.y1;
    })?.number;
  }

  function add(number) {
    growing.push(number);
    at = number;
    told(`Panel ${number} is number ${growing.length}.`);
  }

  function toggle(number) {
    if (!growing.includes(number)) return add(number);
    growing = growing.filter((one) => one !== number);
    told(`Panel ${number} is taken out.`);
  }

  function told(words) {
    desk.tell(words);
    shown();
    desk.marks();
  }

  function shown() {
    growing = growing.filter(has);
    if (!has(at)) at = null;
    by("ws-string-growing").textContent = growing.length
      ? `${growing.join(" → ")}. Tap the next panel, or finish.`
      : "Tap panels in the order of the string, or slide over them.";
    for (const button of document.querySelectorAll("[data-string-do]")) {
      button.disabled =
        !growing.length || (button.dataset.stringDo === "finish" && !by("ws-string-on").value);
    }
  }

  const acts = {
    finish() {
      const label = by("ws-string-on").value;
      if (!growing.length || !label) return;
      const made = growing;
      growing = [];
      store.change((layout) => edits.wire(layout, made, label));
      told(`String of panels ${made.join(", ")} on controller ${label}.`);
    },
    round() {
      growing.reverse();
      told(`Turned round: ${growing.join(", ")}.`);
    },
    unwire() {
      const gone = growing;
      growing = [];
      store.change((layout) => edits.unwire(layout, gone));
      told(`Panels ${gone.join(", ")} are in no string.`);
    },
    forget() {
      growing = [];
      told("Nothing is chosen.");
    },
  };
  for (const button of document.querySelectorAll("[data-string-do]")) {
    button.addEventListener("click", () => acts[button.dataset.stringDo]());
  }

  function down(spot) {
    const first = hit(spot);
    if (first === undefined) return null;
    return {
      tap: () => toggle(first),
      move: (_event, to) => {
        if (!growing.includes(first)) add(first);
        const over = hit(to);
        if (over !== undefined && !growing.includes(over)) add(over);
      },
    };
  }

  function key(event) {
    const name = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (name === "n" || name === "p") step(name === "n" ? 1 : -1);
    else if (name === " ") {
      if (at !== null) toggle(at);
    } else if (name === "Enter") acts.finish();
    else if (name === "Backspace") {
      if (growing.length) toggle(growing.at(-1));
    } else if (name === "Escape") acts.forget();
    else return desk.viewKey(event);
    return true;
  }

  function step(count) {
    const all = numbers();
    if (!all.length) return;
    const place = all.indexOf(at);
    at = all[place < 0 ? (count > 0 ? 0 : all.length - 1) : (place + count + all.length) % all.length];
    told(`Panel ${at}.`);
  }

  // The line as it grows, a number at each panel, a frame round the one the keys stand on.
  function marks() {
    const line = stage.shown.width / 500;
    const middle = (number) => {
      const box = boxOf(store.panel(number), parts);
      return { x: (box.x0 + box.x1) / 2, y: start.roof.width - (box.y0 + box.y1) / 2 };
    };
    const spots = growing.filter(has).map(middle); // marks may be asked for before the roof is looked at anew
    const made = [];
    if (has(at)) made.push(stage.frame(boxOf(store.panel(at), parts), "chosen", line));
    if (spots.length > 1) {
      made.push(
        stage.node("polyline", {
          points: spots.map(({ x, y }) => `${x},${y}`).join(" "),
          class: "ws-growing",
          "stroke-width": 2.4 * line,
        }),
      );
    }
    spots.forEach(({ x, y }, place) => {
      made.push(
        stage.node("circle", { cx: x, cy: y, r: 9 * line, class: "ws-growing-spot", "stroke-width": line }),
      );
      const word = stage.node("text", {
        x,
        y,
        class: "ws-growing-word",
        "font-size": 11 * line,
        "text-anchor": "middle",
        dy: "0.35em",
      });
      word.textContent = place + 1;
      made.push(word);
    });
    return made;
  }

  desk.join("strings", {
    down,
    key,
    marks,
    show: shown,
    tapAway: () => {},
    turn: (isOn) => {
      if (!isOn) growing = [];
      shown();
    },
  });
}
