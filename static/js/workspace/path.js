// The wire path under the hand: gland, combiners, leads and home runs, by tapping, dragging, keys or numbers.

import { NumberForm } from "./fields.js";
import { boxOf, GRID, settle } from "./geometry.js";
import { show } from "./lengths.js";

const INSET = 70; // mm: middle of a junction box from the edge of its side
const NEAR = 16; // px: so near a point or a line is meant
const MOST_BENDS = 20;
const LIMITS = {
  x: [-1000, 16000, "From the rear", "length", false],
  y: [-1000, 4000, "From the right", "length", false],
  slack: [0, 0.5, "Slack", "percent", false],
};

function boxAt(panel, parts) {
  const { x0, y0, x1, y1, length, width } = boxOf(panel, parts);
  const { box } = parts.get(panel.part);
  if (box === "middle") return [x0 + length / 2, y0 + width / 2];
  if ((box === "short") !== panel.turned) return [panel.box_far ? x1 - INSET : x0 + INSET, y0 + width / 2];
  return [x0 + length / 2, panel.box_far ? y1 - INSET : y0 + INSET];
}

const pathMm = (points) =>
  points
    .slice(1)
    .reduce((sum, at, place) => sum + Math.hypot(at[0] - points[place][0], at[1] - points[place][1]), 0);

export function joinPath(desk) {
  const { by, start, store, stage, live, parts } = desk;
  let chosen = null; // id of a point
  let tried = null; // the layout while a point is held
  let isDrawing = false;

  const now = () => tried ?? store.layout;

  // Returns every wire: its id, words, bends, and the points before and after them.
  function wires(layout) {
    const { combiners, homes, gland } = layout.path;
    const found = [];
    layout.strings.forEach((string, place) => {
      const panels = string.panels
        .map((number) => layout.panels.find((one) => one.number === number))
        .filter(Boolean);
      const at = combiners[string.controller];
      if (!at || !panels.length) return;
      const ends = [boxAt(panels[0], parts), boxAt(panels.at(-1), parts)];
      found.push({
        id: `lead:${place}`,
        words: `Leads of string ${place + 1}`,
        ends,
        bends: string.lead ?? [],
        last: at,
      });
    });
    for (const [label, at] of Object.entries(combiners)) {
      found.push({
        id: `home:${label}`,
        words: `Home run of ${label}`,
        ends: [at],
        bends: homes[label] ?? [],
        last: gland,
      });
    }
    return found;
  }

  function setBends(layout, id, bends) {
    const [kind, name] = id.split(":");
    if (kind === "lead") {
      if (bends.length) layout.strings[Number(name)].lead = bends;
      else delete layout.strings[Number(name)].lead;
    } else if (bends.length) layout.path.homes[name] = bends;
    else delete layout.path.homes[name];
  }

  // Returns every point the hand can take: id, words, place.
  function points(layout) {
    const { gland, combiners } = layout.path;
    const found = gland ? [{ id: "gland", words: "Gland", at: gland }] : [];
    for (const [label, at] of Object.entries(combiners))
      found.push({ id: `combiner:${label}`, words: `Combiner ${label}`, at });
    for (const wire of wires(layout)) {
      wire.bends.forEach((at, place) =>
        found.push({ id: `bend:${wire.id}:${place}`, words: `${wire.words}, bend ${place + 1}`, at, wire }),
      );
    }
    return found;
  }

  const point = (id = chosen, layout = now()) => points(layout).find((one) => one.id === id);
  const held = (value, [low, high]) => Math.round(Math.min(Math.max(value, low), high) * 10) / 10;

  function place(layout, id, x, y) {
    const at =
      id === "gland" ? [held(x, [0, 16000]), held(y, [0, 4000])] : [held(x, LIMITS.x), held(y, LIMITS.y)];
    const [kind, ...rest] = id.split(":");
    if (kind === "gland") layout.path.gland = at;
    else if (kind === "combiner") layout.path.combiners[rest[0]] = at;
    else {
      const wire = wires(layout).find((one) => one.id === `${rest[0]}:${rest[1]}`);
      const bends = [...wire.bends];
      bends[Number(rest[2])] = at;
      setBends(layout, wire.id, bends);
    }
  }

  // Puts a bend into the wire, where it is nearest to the place unless told; returns its id.
  function bend(layout, wireId, x, y, at = null) {
    const wire = wires(layout).find((one) => one.id === wireId);
    if (!wire || wire.bends.length >= MOST_BENDS) return null;
    const there = at ?? stretchAt(wire, x, y);
    setBends(layout, wireId, wire.bends.toSpliced(there, 0, [held(x, LIMITS.x), held(y, LIMITS.y)]));
    return `bend:${wireId}:${there}`;
  }

  // Returns before which bend the stretch of a wire lies that is nearest to a place.
  function stretchAt(wire, x, y) {
    const gaps = lines(wire).map(([from, to]) => farFrom([x, y], from, to));
    if (!gaps.length) return wire.bends.length;
    return Math.max(0, gaps.indexOf(Math.min(...gaps)) - wire.ends.length + 1);
  }

  function farFrom([x, y], [ax, ay], [bx, by_]) {
    const span = (bx - ax) ** 2 + (by_ - ay) ** 2;
    const share = span ? Math.min(1, Math.max(0, ((x - ax) * (bx - ax) + (y - ay) * (by_ - ay)) / span)) : 0;
    return Math.hypot(x - ax - share * (bx - ax), y - ay - share * (by_ - ay));
  }

  function remove(layout, id) {
    const [kind, ...rest] = id.split(":");
    if (kind === "gland") layout.path.gland = null;
    else if (kind === "combiner") {
      delete layout.path.combiners[rest[0]];
      delete layout.path.homes[rest[0]];
      for (const string of layout.strings) if (string.controller === rest[0]) delete string.lead;
    } else {
      const wire = wires(layout).find((one) => one.id === `${rest[0]}:${rest[1]}`);
      setBends(layout, wire.id, wire.bends.toSpliced(Number(rest[2]), 1));
    }
  }

  const mayMove = (id) => id !== "gland" || !start.things.locked;

  // --- the hand ---

  function down(at) {
    const near = NEAR / stage.svg.getScreenCTM().a;
    const [found] = points(store.layout)
      .map((one) => ({ ...one, far: Math.hypot(one.at[0] - at.x, one.at[1] - at.y) }))
      .filter((one) => one.far <= near)
      .sort((one, other) => one.far - other.far);
    if (found && !isDrawing)
      return hold(found.id, (layout, x, y) => (place(layout, found.id, x, y), found.id));
    if (isDrawing) return { tap: () => drawAt(at), move: () => {}, drop: () => {}, cancel: () => {} };
    const wire = wires(store.layout).find((one) =>
      lines(one).some(([from, to]) => farFrom([at.x, at.y], from, to) <= near),
    );
    if (!wire) return null;
    const there = stretchAt(wire, at.x, at.y);
    return hold(null, (layout, x, y) => bend(layout, wire.id, x, y, there));
  }

  // Returns a hold that puts a point where the hand is; ``put`` returns the id of what it put.
  function hold(id, put) {
    if (id && !mayMove(id)) return null;
    let put_ = id;
    return {
      move: (event, to) => {
        const rest = pulled(to, put_, event.altKey);
        tried = structuredClone(store.layout);
        put_ = put(tried, rest.x, rest.y) ?? put_;
        chosen = put_;
        desk.marks();
        live.ask(tried);
      },
      drop: () => {
        const made = tried;
        tried = null;
        if (made) store.change((layout) => Object.assign(layout, made));
        choose(put_);
      },
      tap: () => choose(id),
      cancel: () => {
        tried = null;
        desk.marks();
      },
    };
  }

  // Pulls a point to edges of the roof and panels, to rafters, and square to the points beside it.
  function pulled({ x, y }, id, isFree) {
    if (isFree || !by("ws-pull").checked)
      return { x: Math.round(x / GRID) * GRID, y: Math.round(y / GRID) * GRID };
    const dot = ([px, py]) => ({ x0: px, y0: py, x1: px, y1: py, length: 0, width: 0 });
    const others = points(store.layout)
      .filter((one) => one.id !== id)
      .map((one) => dot(one.at));
    for (const wire of wires(store.layout)) others.push(...wire.ends.map(dot));
    return settle(dot([x, y]), others, { roof: start.roof, obstacles: [] }, true);
  }

  function drawAt({ x, y }) {
    const what = by("ws-wire-what").value;
    const rest = pulled({ x, y }, what, false);
    if (!mayMove(what)) return;
    store.change((layout) => {
      if (what === "gland" || what.startsWith("combiner")) place(layout, what, rest.x, rest.y);
      else chosen = bend(layout, what, rest.x, rest.y) ?? chosen;
    });
    if (what === "gland" || what.startsWith("combiner")) {
      draw(false);
      chosen = what;
    }
    choose(chosen);
  }

  function draw(isOn) {
    isDrawing = isOn;
    by("ws-wire-draw").setAttribute("aria-pressed", String(isOn));
    by("ws-stage").classList.toggle("ws-drawing", isOn);
  }

  function choose(id) {
    chosen = point(id) ? id : null;
    shown();
    const one = point();
    if (one)
      desk.tell(
        `${one.words}: ${show(one.at[0], start.units)} from the rear, ${show(one.at[1], start.units)} from the right.`,
      );
  }

  // --- buttons, keys, numbers ---

  // Adds what is chosen in the list at a usual place: beside the gland, the middle of the roof, half way.
  function add() {
    const what = by("ws-wire-what").value;
    if (!mayMove(what)) return;
    const { gland } = store.layout.path;
    const middle = [start.roof.length / 2, start.roof.width / 2];
    let id = what;
    store.change((layout) => {
      if (what === "gland") place(layout, what, ...middle);
      else if (what.startsWith("combiner"))
        place(layout, what, (gland ?? middle)[0] - (gland ? 200 : 0), (gland ?? middle)[1]);
      else {
        const wire = wires(layout).find((one) => one.id === what);
        if (!wire) return;
        const before = wire.bends.at(-1) ?? wire.ends[0];
        const after = wire.last ?? before;
        id = bend(layout, what, (before[0] + after[0]) / 2, (before[1] + after[1]) / 2);
      }
    });
    choose(id);
  }

  const acts = {
    draw: () => draw(!isDrawing),
    add,
    remove: () => chosen && mayMove(chosen) && store.change((layout) => remove(layout, chosen)),
    straight: () =>
      store.change((layout) =>
        wires(layout)
          .filter((one) => one.id === by("ws-wire-what").value)
          .forEach((one) => setBends(layout, one.id, [])),
      ),
  };
  for (const button of document.querySelectorAll("[data-wire-do]")) {
    button.addEventListener("click", () => {
      acts[button.dataset.wireDo]();
      shown();
    });
  }

  const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

  function key(event) {
    const name = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const arrow = ARROWS[event.key];
    if (name === "n" || name === "p") next(name === "n" ? 1 : -1);
    else if (name === "Escape") {
      draw(false);
      choose(null);
    } else if (arrow && point()) {
      const step = event.shiftKey ? 10 * GRID : GRID;
      const { at } = point();
      if (mayMove(chosen))
        store.change((layout) => place(layout, chosen, at[0] + arrow[0] * step, at[1] + arrow[1] * step));
    } else if (name === "b" && !event.ctrlKey && !event.metaKey) add();
    else if (name === "Delete" || name === "Backspace") acts.remove();
    else return desk.viewKey(event);
    choose(chosen);
    return true;
  }

  function next(step) {
    const ids = points(store.layout).map((one) => one.id);
    if (!ids.length) return;
    const at = ids.indexOf(chosen);
    chosen = ids[at < 0 ? (step > 0 ? 0 : ids.length - 1) : (at + step + ids.length) % ids.length];
  }

  const numbers = new NumberForm(by("ws-wire-form"), {
    units: start.units,
    limits: LIMITS,
    wrong: by("ws-wire-wrong"),
    set: (name, value) =>
      store.change((layout) => {
        if (name === "slack") layout.path.slack = Math.round(value * 1000) / 1000;
        else {
          const { at } = point();
          place(layout, chosen, name === "x" ? value : at[0], name === "y" ? value : at[1]);
        }
      }),
  });

  // --- words and marks ---

  function shown() {
    if (!point()) chosen = null;
    fillWhat();
    const one = point();
    by("ws-wire-list").replaceChildren(...points(store.layout).map(line));
    by("ws-wire-none").hidden = Object.keys(store.layout.path.combiners).length > 0;
    by("ws-wire-point").hidden = !one;
    if (one) by("ws-wire-name").textContent = one.words;
    numbers.show(chosen ?? "", {
      slack: store.layout.path.slack,
      ...(one ? { x: one.at[0], y: one.at[1] } : {}),
    });
    for (const button of document.querySelectorAll("[data-wire-do=remove]"))
      button.disabled = !one || !mayMove(chosen);
    desk.marks();
  }

  function fillWhat() {
    const { layout } = store;
    const labels = start.controllers;
    const options = [
      ["gland", "Gland"],
      ...labels.map((label) => [`combiner:${label}`, `Combiner of controller ${label}`]),
      ...wires(layout).map((one) => [one.id, one.words]),
    ];
    const select = by("ws-wire-what");
    const before = select.value;
    const text = JSON.stringify(options);
    if (select.dataset.shown === text) return;
    select.dataset.shown = text;
    select.replaceChildren(...options.map(([value, words]) => new Option(words, value)));
    const missing = options.find(([value]) => value.startsWith("combiner") && !point(value));
    select.value =
      options.some(([value]) => value === before) && point(before) === undefined
        ? before
        : (missing?.[0] ?? before);
    if (!select.value) select.selectedIndex = 0;
  }

  function line(one) {
    const made = document.createElement("li");
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "ws-pick", textContent: one.words });
    button.setAttribute("aria-pressed", String(one.id === chosen));
    button.addEventListener("click", () => {
      choose(one.id);
      by("ws-wire-list").querySelector("[aria-pressed=true]")?.focus();
    });
    made.append(button);
    return made;
  }

  function lines(wire) {
    const stops = [...wire.bends, ...(wire.last ? [wire.last] : [])];
    if (!stops.length) return [];
    return [...wire.ends.map((end) => [end, stops[0]]), ...stops.slice(1).map((to, at) => [stops[at], to])];
  }

  function marks() {
    const width = stage.shown.width / 500;
    const nodes = [];
    for (const wire of tried ? wires(tried) : []) {
      for (const [[x1, y1], [x2, y2]] of lines(wire)) {
        nodes.push(
          stage.node("line", {
            x1,
            x2,
            y1: stage.roofWidth - y1,
            y2: stage.roofWidth - y2,
            class: "ws-wire",
            "stroke-width": 2 * width,
          }),
        );
      }
    }
    for (const one of points(now())) {
      const isChosen = one.id === chosen;
      nodes.push(
        stage.node("circle", {
          cx: one.at[0],
          cy: stage.roofWidth - one.at[1],
          r: (isChosen ? 8 : 6) * width,
          class: `ws-point${isChosen ? " ws-point-chosen" : ""}`,
          "stroke-width": 1.5 * width,
        }),
      );
    }
    const one = tried && point();
    if (one?.wire) {
      const { ends, bends, last } = wires(tried).find((wire) => wire.id === one.wire.id);
      desk.tell(
        `${one.wire.words}: ${show(pathMm([ends[0], ...bends, ...(last ? [last] : [])]), start.units)} drawn.`,
      );
    }
    return nodes;
  }

  // Shows length, gauge, drop and verdict of the roof circuits of a live answer.
  function answered(got) {
    if (got.error) return;
    const rows = got.wires ?? []; // none while the design cannot be sized
    by("ws-wire-rows").replaceChildren(...rows.map(row));
    by("ws-wire-sums").hidden = !rows.length;
  }

  function row(wire) {
    const made = document.createElement("tr");
    const head = document.createElement("th");
    head.scope = "row";
    head.textContent = `${wire.label} ${wire.words}`;
    const how = document.createElement("span");
    how.className = "muted small ws-how";
    how.textContent = wire.how;
    head.append(how);
    const cells = [wire.length, wire.gauge, wire.drop].map((text) => {
      const cell = document.createElement("td");
      cell.textContent = text;
      return cell;
    });
    const verdict = document.createElement("td");
    verdict.append(desk.badge(wire.verdict));
    made.append(head, ...cells, verdict);
    return made;
  }

  desk.join("wires", {
    down,
    key,
    marks,
    show: shown,
    answered,
    tapAway: () => choose(null),
    turn: (isOn) => {
      by("ws-stage").classList.toggle("ws-on-wires", isOn);
      if (!isOn) draw(false);
    },
  });
}
