// The roof workspace: joins hand, drawing, server and words. The layout lives in the store; all else shows it.

import * as edits from "./edits.js";
import { boxOf, GRID, settle } from "./geometry.js";
import { layInto } from "./lay.js";
import { show } from "./lengths.js";
import { joinThings } from "./obstacles.js";
import { joinPath } from "./path.js";
import { openShade } from "./shade.js";
import { joinTrace } from "./trace.js";
import * as side from "./side.js";
import { Stage } from "./stage.js";
import { Store } from "./store.js";
import { joinStrings } from "./strings_hand.js";
import { Live, Saver } from "./talk.js";

const by = (id) => document.getElementById(id);
const start = JSON.parse(by("workspace-start").textContent);
const place = document.querySelector(".ws");
const parts = new Map(start.parts.map((part) => [part.id, part]));
const store = new Store(start);
const stage = new Stage(by("ws-stage"), by("ws-plan"), start.roof.width);
let chosen = [];
let answer = null;
let guides = null;
let shifted = null; // panels under the hand: number -> {x, y}
// What the hand moves: panels, or what a module joined. A hand answers down, tapAway and key, draws marks, and
// shows itself when the layout changed (show) or its turn comes and goes (turn).
const hands = new Map();
let hand = null;

const live = new Live(place.dataset.live, onAnswer, side.showTrouble);
const detail = new Live(place.dataset.detail, side.showDetail, () => {}); // the slower half, for a hand at rest
let rest = 0;
const saver = new Saver(place.dataset.save, store, side.showState, onConflict);

function onAnswer(got) {
  if (got.svg) {
    stage.take(got.svg);
    stage.shift(shifted);
    if (!shifted) live.follow(store.layout); // now the year of what was drawn
  }
  if (!got.error) answer = got;
  side.showAnswer(got);
  for (const one of hands.values()) one.answered?.(got);
  marks();
  place.dataset.answered = String(got.sequence);
}

function marks() {
  const boxes = [];
  const at = (number) => {
    const panel = store.panel(number);
    const box = panel && boxOf(panel, parts);
    const by = shifted?.get(number);
    return box && by
      ? { ...box, x0: box.x0 + by.x, x1: box.x1 + by.x, y0: box.y0 + by.y, y1: box.y1 + by.y }
      : box;
  };
  const wrong = new Set();
  for (const rule of answer?.rules ?? []) {
    const said = rule.verdict === "block" ? `${rule.subject} ${rule.sentence}` : "";
    for (const found of said.matchAll(/panel[: ](\d+)/gi)) wrong.add(Number(found[1]));
  }
  for (const number of wrong) if (at(number)) boxes.push({ box: at(number), kind: "wrong" });
  if (hand === hands.get("panels"))
    for (const number of chosen) if (at(number)) boxes.push({ box: at(number), kind: "chosen" });
  const feet = shifted ? [] : (answer?.feet ?? []).filter(([, , , stands]) => !stands);
  stage.mark({ boxes, guides, feet: start.roof.rafters.length ? feet : [], more: hand?.marks?.() ?? [] });
}

function refresh() {
  chosen = chosen.filter((number) => store.panel(number));
  stage.shift(null);
  side.showPanels(store.layout, chosen, parts, (number, isOn) => {
    chosen = chosen.filter((one) => one !== number);
    if (isOn) chosen.push(number);
    choosing();
  });
  for (const one of hands.values()) one.show?.();
  choosing();
}

function choosing() {
  for (const box of by("ws-list").querySelectorAll("input"))
    box.checked = chosen.includes(Number(box.id.slice(9)));
  side.showForm(chosen.length === 1 ? store.panel(chosen[0]) : null, start.units);
  side.showWiring(start.controllers, chosen.length, wire);
  for (const button of document.querySelectorAll("[data-do]")) {
    const needs = { rotate: 1, duplicate: 1, remove: 1, align: 2, spread: 3 }[
      button.dataset.do.split("-")[0]
    ];
    if (needs) button.disabled = chosen.length < needs;
  }
  showSteps();
  marks();
}

// The steps back belong to the layout, or to what the hand moves beside it (the photo keeps its own).
const steps = () => hand?.steps ?? store;

function showSteps() {
  document.querySelector("[data-do=undo]").disabled = !steps().past.length;
  document.querySelector("[data-do=redo]").disabled = !steps().future.length;
}

function say() {
  const words = chosen.map((number) => {
    const panel = store.panel(number);
    return panel
      ? `Panel ${number}: ${show(panel.x_mm, start.units)} from the rear, ${show(panel.y_mm, start.units)} from the right.`
      : "";
  });
  by("ws-said").textContent = words.join(" ");
}

store.onChange(() => {
  refresh();
  live.ask(store.layout, true);
  askDetail();
  saver.soon();
});

function askDetail() {
  clearTimeout(rest);
  rest = setTimeout(() => detail.ask(store.layout), 500);
}

function wire(label) {
  store.change((layout) =>
    label === null ? edits.unwire(layout, chosen) : edits.wire(layout, chosen, label),
  );
}

// --- the hand ---

stage.onDown = (at, event) => hand.down(at, event);
stage.onTapAway = () => hand.tapAway?.();

function takePanel(at, event) {
  const hit = store.layout.panels.findLast((panel) => {
    const box = boxOf(panel, parts);
    return at.x >= box.x0 && at.x <= box.x1 && at.y >= box.y0 && at.y <= box.y1;
  });
  if (!hit) return null;
  const isSeveral = event.shiftKey || by("ws-several").checked;
  const was = chosen.includes(hit.number);
  if (!was) chosen = isSeveral ? [...chosen, hit.number] : [hit.number];
  choosing();
  return {
    move: (now, to) => drag(hit, to.x - at.x, to.y - at.y, now.altKey),
    drop: () => {
      const by = shifted?.get(hit.number);
      letGo();
      if (by) store.change((layout) => edits.move(layout, chosen, by.x, by.y));
      say();
    },
    tap: () => {
      if (was && isSeveral) chosen = chosen.filter((one) => one !== hit.number);
      else if (was) chosen = [hit.number];
      choosing();
      say();
    },
    cancel: letGo,
  };
}

function chooseNone() {
  chosen = [];
  choosing();
}

function drag(hit, x, y, isFree) {
  const box = boxOf(hit, parts);
  const others = store.layout.panels
    .filter((one) => !chosen.includes(one.number))
    .map((one) => boxOf(one, parts));
  const moved = { ...box, x0: box.x0 + x, x1: box.x1 + x, y0: box.y0 + y, y1: box.y1 + y };
  const rest = isFree
    ? { x: Math.round(moved.x0), y: Math.round(moved.y0), guides: null }
    : settle(moved, others, start, by("ws-pull").checked);
  const step = { x: rest.x - box.x0, y: rest.y - box.y0 };
  guides = rest.guides;
  shifted = new Map(chosen.map((number) => [number, step]));
  stage.shift(shifted);
  marks();
  const tried = structuredClone(store.layout);
  edits.move(tried, chosen, step.x, step.y);
  live.ask(tried);
}

function letGo() {
  shifted = guides = null;
  stage.shift(null);
  marks();
}

// --- buttons and keys ---

const acts = {
  add() {
    const part = parts.get(Number(by("ws-part").value));
    let number = null;
    if (part)
      store.change((layout) => {
        number = edits.add(layout, part, parts, start, stage.ways(start.roof.walkway));
      });
    if (number) chosen = [number];
  },
  rotate: () => store.change((layout) => edits.rotate(layout, chosen)),
  duplicate() {
    let made = [];
    store.change((layout) => {
      made = edits.duplicate(layout, chosen, parts, start, stage.ways(start.roof.walkway));
    });
    chosen = made;
  },
  remove: () => store.change((layout) => edits.remove(layout, chosen)),
  undo: () => steps().undo(),
  redo: () => steps().redo(),
  closer: () => stage.zoom(1 / 1.4),
  farther: () => stage.zoom(1.4),
  whole: () => stage.whole(),
  "spread-along": () => store.change((layout) => edits.spread(layout, chosen, true, parts)),
  "spread-across": () => store.change((layout) => edits.spread(layout, chosen, false, parts)),
};
for (const edge of ["rear", "front", "right", "left"]) {
  acts[`align-${edge}`] = () => store.change((layout) => edits.align(layout, chosen, edge, parts));
}

for (const button of document.querySelectorAll("[data-do]")) {
  button.addEventListener("click", () => {
    acts[button.dataset.do]();
    choosing();
    say();
  });
}

// The menu stays open for several presses in a row; it closes where the hand or the eye goes elsewhere.
const menu = document.querySelector(".ws-more");
const elsewhere = (event) => {
  if (!menu.contains(event.target)) menu.open = false;
};
document.addEventListener("pointerdown", elsewhere);
document.addEventListener("focusin", elsewhere);
menu.addEventListener("keydown", (event) => {
  if (event.key !== "Escape" || !menu.open) return;
  menu.open = false;
  menu.querySelector("summary").focus();
});

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const KEYS = { r: "rotate", d: "duplicate", Delete: "remove", Backspace: "remove" };

by("ws-stage").addEventListener("keydown", (event) => {
  if (!hand.key(event)) return;
  event.preventDefault();
});

const VIEW = { "+": "closer", "=": "closer", "-": "farther", 0: "whole" };

// The keys that look closer are the same for every hand.
function viewKey(event) {
  if (!(event.key in VIEW) || event.ctrlKey || event.metaKey) return false;
  acts[VIEW[event.key]]();
  return true;
}

function panelKey(event) {
  const arrow = ARROWS[event.key];
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (arrow && chosen.length) {
    const step = event.shiftKey ? 10 * GRID : GRID;
    store.change((layout) => edits.move(layout, chosen, arrow[0] * step, arrow[1] * step));
  } else if (key === "n" || key === "p") next(key === "n" ? 1 : -1, event.shiftKey);
  else if (key === "Escape") chooseNone();
  else if (key in KEYS && !event.ctrlKey && !event.metaKey) acts[KEYS[key]]();
  else return viewKey(event);
  choosing();
  say();
  return true;
}

// Fields with steps back of their own.
const TYPED = "input:not([type=checkbox], [type=radio], [type=range], [type=file]), textarea";

document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.target.matches(TYPED)) return;
  const key = event.key.toLowerCase();
  const act = key === "z" ? (event.shiftKey ? "redo" : "undo") : key === "y" ? "redo" : null;
  if (!act) return;
  event.preventDefault();
  acts[act]();
  say();
});

function next(step, isMore) {
  const numbers = store.layout.panels.map((one) => one.number);
  if (!numbers.length) return;
  const last = numbers.indexOf(chosen.at(-1));
  const number =
    numbers[last < 0 ? (step > 0 ? 0 : numbers.length - 1) : (last + step + numbers.length) % numbers.length];
  chosen = isMore ? [...chosen.filter((one) => one !== number), number] : [number];
}

side.watchForm(start.units, (name, value) => {
  store.change((layout) => {
    const panel = layout.panels.find((one) => one.number === chosen[0]);
    if (value === false && name === "box_far")
      delete panel.box_far; // as the server tells it
    else panel[name] = value;
  });
});

// --- two people on one revision ---

function onConflict(got) {
  side.showState("held");
  by("ws-differences").replaceChildren(
    ...(got.differences.length
      ? got.differences
      : ["Their roof is the same as yours; something else of the revision changed."]
    ).map((words) => {
      const line = document.createElement("li");
      line.textContent = words;
      return line;
    }),
  );
  by("ws-conflict").hidden = false;
  by("ws-conflict").focus();
  by("ws-keep-mine").onclick = () => {
    store.seen = got.edit_count;
    store.keep();
    settled();
  };
  by("ws-take-theirs").onclick = () => {
    store.takeTheirs(got.theirs, got.edit_count);
    settled();
    if (!store.isDirty) side.showState("saved");
  };
}

function settled() {
  by("ws-conflict").hidden = true;
  saver.release();
  by("ws-stage").focus();
}

// --- whose turn the hand is ---

// What a module that joins may use; ``tell`` says words to a person who does not see the roof.
const desk = {
  by,
  start,
  parts,
  store,
  stage,
  live,
  marks,
  showSteps,
  viewKey,
  badge: side.badge,
  tell: (words) => {
    by("ws-said").textContent = words;
  },
  join: (name, one) => hands.set(name, one),
};
desk.join("panels", { down: takePanel, tapAway: chooseNone, key: panelKey });
joinThings(desk);
joinPath(desk);
joinTrace(desk);
joinStrings(desk);

function turn(name) {
  hand?.turn?.(false);
  hand = hands.get(name);
  hand.turn?.(true);
  const words = document.querySelector(`label[for=ws-hand-${name}]`).textContent.toLowerCase();
  by("ws-stage").setAttribute("aria-label", `Roof, the hand moves: ${words}`);
  for (const one of document.querySelectorAll("[data-hand]")) one.hidden = one.dataset.hand !== name;
  showSteps();
  marks();
}

for (const choice of document.querySelectorAll("[name=ws-hand]")) {
  choice.checked = choice.value === "panels";
  choice.addEventListener("change", () => turn(choice.value));
}

// --- begin ---

layInto(store, saver);
for (const id of ["ws-tools", "ws-below", "ws-side", "ws-hands", "ws-under"]) by(id).hidden = false;
Object.assign(by("ws-stage"), { tabIndex: 0, role: "application" });
by("ws-stage").setAttribute("aria-describedby", "ws-help");
openShade({ store, stage, parts, start });
addEventListener("offline", () => side.showState("offline"));
turn("panels");
if (location.hash === "#photo") by("ws-hand-photo").click();
refresh();
live.ask(store.layout, store.isDirty);
askDetail();
saver.soon(0);
