// Things on the roof under the hand: add, draw, move, turn, resize, take off. They belong to the vehicle's survey.

import { NumberForm } from "./fields.js";
import { boxOf, freePlace, GRID, settle } from "./geometry.js";
import { show } from "./lengths.js";

const LEAN = Math.sin((20 * Math.PI) / 180); // an open lid leans this share of its length over its hinge side
const TURNED = { front: "left", left: "rear", rear: "right", right: "front", "": "" };
const LEAST = 20; // mm: a drawn thing is at least so large

export const thingBox = (thing) => ({
  x0: thing.x_mm,
  y0: thing.y_mm,
  x1: thing.x_mm + thing.length_mm,
  y1: thing.y_mm + thing.width_mm,
  length: thing.length_mm,
  width: thing.width_mm,
});

function sweepOf({ x0, y0, x1, y1, length, width }, swing) {
  const [along, across] = [length * LEAN, width * LEAN];
  return (
    {
      front: [x1, y0, x1 + along, y1],
      rear: [x0 - along, y0, x0, y1],
      left: [x0, y1, x1, y1 + across],
      right: [x0, y0 - across, x1, y0],
    }[swing] ?? null
  );
}

// Returns what panels keep clear of, as the panel hand's geometry knows it.
export function asFacts(things) {
  return things
    .filter((thing) => !thing.removed)
    .map((thing) => {
      const box = thingBox(thing);
      return {
        name: thing.label,
        box: [box.x0, box.y0, box.x1, box.y1],
        keep_out: thing.keep_out_mm,
        sweep: sweepOf(box, thing.swing),
      };
    });
}

export function joinThings(desk) {
  const { by, start, store, stage, live, parts } = desk;
  const kinds = new Map(start.things.kinds.map((one) => [one.kind, one]));
  let chosen = null; // key
  let shifted = null;
  let guides = null;
  let drawing = null; // null, "armed", or the box being drawn

  Object.defineProperty(start, "obstacles", { get: () => asFacts(store.layout.obstacles) });

  const thing = () => store.layout.obstacles.find((one) => one.key === chosen);
  const nameOf = (one) => one.label || kinds.get(one.kind).name;
  const edit = (change) =>
    store.change((layout) =>
      change(
        layout.obstacles.find((one) => one.key === chosen),
        layout,
      ),
    );

  function insert(made) {
    store.change((layout) => {
      layout.obstacles.push(made);
      layout.obstacles.sort((one, other) => (one.key < other.key ? -1 : 1));
    });
    choose(made.key);
  }

  function fresh(kind, size) {
    const usual = kinds.get(kind);
    return {
      key: crypto.randomUUID(),
      kind,
      label: "",
      swing: "",
      round: usual.round,
      removed: false,
      guess: true,
      x_mm: 0,
      y_mm: 0,
      length_mm: usual.length_mm ?? 500,
      width_mm: usual.width_mm ?? 300,
      height_mm: usual.height_mm ?? 100,
      open_mm: usual.open_mm,
      keep_out_mm: usual.keep_out_mm ?? 100,
      ...size,
    };
  }

  function add() {
    const made = fresh(by("ws-kind").value, {});
    const taken = [
      ...store.layout.panels.map((one) => boxOf(one, parts)),
      ...store.layout.obstacles.map(thingBox),
    ];
    const { x, y } = freePlace(thingBox(made), taken, { ...start, obstacles: [] });
    insert({ ...made, x_mm: Math.max(0, x), y_mm: Math.max(0, y) });
  }

  function choose(key) {
    chosen = key;
    shown();
    const one = thing();
    if (one)
      desk.tell(
        `${nameOf(one)}: ${show(one.x_mm, start.units)} from the rear, ${show(one.y_mm, start.units)} from the right.`,
      );
  }

  // --- the hand ---

  function hit({ x, y }) {
    const slack = 12 / stage.svg.getScreenCTM().a;
    return store.layout.obstacles
      .filter((one) => {
        const box = thingBox(one);
        return x >= box.x0 - slack && x <= box.x1 + slack && y >= box.y0 - slack && y <= box.y1 + slack;
      })
      .sort((one, other) => one.length_mm * one.width_mm - other.length_mm * other.width_mm)[0];
  }

  function down(at) {
    if (drawing) return drawFrom(at);
    const found = start.things.locked ? null : hit(at);
    if (!found) return null;
    choose(found.key);
    return {
      move: (now, to) => drag(found, to.x - at.x, to.y - at.y, now.altKey),
      drop: () => {
        const step = shifted?.get(found.key);
        letGo();
        if (step) edit((one) => move(one, step.x, step.y));
        choose(found.key);
      },
      tap: () => choose(found.key),
      cancel: letGo,
    };
  }

  const within = (value, name) =>
    Math.round(Math.min(Math.max(value, start.things.limits[name][0]), start.things.limits[name][1]) * 10) /
    10;

  function move(one, x, y) {
    one.x_mm = within(one.x_mm + x, "x_mm");
    one.y_mm = within(one.y_mm + y, "y_mm");
  }

  function drag(found, x, y, isFree) {
    const box = thingBox(found);
    const others = [
      ...store.layout.panels.map((one) => boxOf(one, parts)),
      ...store.layout.obstacles.filter((one) => one !== found).map(thingBox),
    ];
    const moved = { ...box, x0: Math.max(0, box.x0 + x), y0: Math.max(0, box.y0 + y) };
    const rest = isFree
      ? { x: Math.round(moved.x0), y: Math.round(moved.y0), guides: null }
      : settle(moved, others, { roof: start.roof, obstacles: [] }, by("ws-pull").checked);
    const step = { x: rest.x - box.x0, y: rest.y - box.y0 };
    guides = rest.guides;
    shifted = new Map([[found.key, step]]);
    stage.shift(shifted);
    desk.marks();
    const tried = structuredClone(store.layout);
    move(
      tried.obstacles.find((one) => one.key === found.key),
      step.x,
      step.y,
    );
    live.ask(tried);
  }

  function letGo() {
    shifted = guides = null;
    stage.shift(null);
    desk.marks();
  }

  function drawFrom(at) {
    const clamp = ({ x, y }) => ({
      x: Math.max(0, Math.round(x / GRID) * GRID),
      y: Math.max(0, Math.round(y / GRID) * GRID),
    });
    const from = clamp(at);
    return {
      move: (now, to) => {
        const end = clamp(to);
        const [x0, x1] = [from.x, end.x].sort((a, b) => a - b);
        const [y0, y1] = [from.y, end.y].sort((a, b) => a - b);
        drawing = { x0, y0, x1, y1, length: x1 - x0, width: y1 - y0 };
        desk.marks();
      },
      drop: () => {
        const box = drawing;
        arm(false);
        if (box.length < LEAST || box.width < LEAST) return;
        insert(
          fresh(by("ws-kind").value, {
            x_mm: box.x0,
            y_mm: box.y0,
            length_mm: box.length,
            width_mm: box.width,
          }),
        );
      },
      tap: () => arm(false),
      cancel: () => arm(false),
    };
  }

  function arm(isOn) {
    drawing = isOn ? "armed" : null;
    by("ws-thing-draw").setAttribute("aria-pressed", String(isOn));
    by("ws-stage").classList.toggle("ws-drawing", isOn);
    desk.marks();
  }

  // --- buttons, keys, numbers ---

  const acts = {
    add,
    draw: () => arm(!drawing),
    turn: () =>
      edit((one) => {
        [one.length_mm, one.width_mm] = [one.width_mm, one.length_mm];
        one.swing = TURNED[one.swing];
      }),
    copy: () =>
      insert({
        ...thing(),
        key: crypto.randomUUID(),
        x_mm: within(thing().x_mm + 100, "x_mm"),
        y_mm: within(thing().y_mm + 100, "y_mm"),
      }),
    remove: () =>
      store.change((layout) => {
        layout.obstacles = layout.obstacles.filter((one) => one.key !== chosen);
      }),
  };
  const KEYS = { r: "turn", d: "copy", Delete: "remove", Backspace: "remove" };
  const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

  for (const button of document.querySelectorAll("[data-thing-do]")) {
    button.addEventListener("click", () => {
      acts[button.dataset.thingDo]();
      shown();
    });
  }

  function key(event) {
    const name = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const arrow = ARROWS[event.key];
    const isPlain = !event.ctrlKey && !event.metaKey;
    if (name === "n" || name === "p") next(name === "n" ? 1 : -1);
    else if (name === "Escape") {
      arm(false);
      choose(null);
    } else if (start.things.locked || !thing()) return desk.viewKey(event);
    else if (arrow) edit((one) => move(one, arrow[0] * step(event), arrow[1] * step(event)));
    else if (name in KEYS && isPlain) acts[KEYS[name]]();
    else return desk.viewKey(event);
    choose(thing() ? chosen : null);
    return true;
  }

  const step = (event) => (event.shiftKey ? 10 * GRID : GRID);

  const inOrder = () =>
    [...store.layout.obstacles].sort((one, other) => one.x_mm - other.x_mm || one.y_mm - other.y_mm);

  function next(by_) {
    const keys = inOrder().map((one) => one.key);
    if (!keys.length) return;
    const at = keys.indexOf(chosen);
    chosen = keys[at < 0 ? (by_ > 0 ? 0 : keys.length - 1) : (at + by_ + keys.length) % keys.length];
  }

  const numbers = new NumberForm(by("ws-thing-form"), {
    units: start.units,
    limits: start.things.limits,
    wrong: by("ws-thing-wrong"),
    set: (name, value) =>
      edit((one) => {
        one[name] = value;
      }),
  });

  function shown() {
    const one = thing();
    if (!one) chosen = null;
    by("ws-thing-list").replaceChildren(...inOrder().map(line));
    by("ws-thing-none").hidden = store.layout.obstacles.length > 0;
    by("ws-thing-form").hidden = !one;
    for (const button of document.querySelectorAll("[data-thing-do]")) {
      button.disabled =
        Boolean(start.things.locked) || (!one && !["add", "draw"].includes(button.dataset.thingDo));
    }
    if (one) {
      by("ws-thing-name").textContent = nameOf(one);
      by("ws-thing-note").textContent = [kinds.get(one.kind).note, overEdge(one)].filter(Boolean).join(" ");
      numbers.show(one.key, one);
    }
    desk.marks();
  }

  function overEdge(one) {
    const box = thingBox(one);
    const over = [
      ["front", box.x1 - start.roof.length],
      ["left", box.y1 - start.roof.width],
    ].filter(([, mm]) => mm > 5);
    return over
      .map(([edge, mm]) => `It reaches ${show(mm, start.units)} over the ${edge} edge of the flat roof.`)
      .join(" ");
  }

  function line(one) {
    const made = document.createElement("li");
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "ws-pick", textContent: nameOf(one) });
    button.setAttribute("aria-pressed", String(one.key === chosen));
    const small = document.createElement("span");
    small.className = "muted";
    small.textContent = ` ${show(one.height_mm, start.units)} high${one.removed ? ", comes off" : ""}${one.guess ? ", a guess" : ""}`;
    button.append(small);
    button.addEventListener("click", () => {
      choose(one.key);
      [...by("ws-thing-list").querySelectorAll("button")][
        inOrder().findIndex((other) => other.key === chosen)
      ]?.focus();
    });
    made.append(button);
    return made;
  }

  function marks() {
    const width = stage.shown.width / 500;
    const one = thing();
    const nodes = [];
    if (one) {
      const by_ = shifted?.get(one.key) ?? { x: 0, y: 0 };
      const box = thingBox(one);
      nodes.push(stage.frame({ ...box, x0: box.x0 + by_.x, y1: box.y1 + by_.y }, "chosen", width));
    }
    if (drawing && drawing !== "armed") nodes.push(stage.frame(drawing, "drawn", width));
    return [...nodes, ...stage.guideNodes(guides, width)];
  }

  by("ws-kind").addEventListener("change", () => shown());
  desk.join("things", {
    down,
    key,
    marks,
    show: shown,
    tapAway: () => choose(null),
    turn: (isOn) => {
      if (!isOn) arm(false);
    },
  });
}
