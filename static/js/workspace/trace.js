// A photo under the plan: scaled by two known points, turned and moved, to trace from. Kept with the survey.

import { NumberForm } from "./fields.js";
import { GRID } from "./geometry.js";
import { show } from "./lengths.js";
import { same } from "./store.js";
import { post } from "./talk.js";

const NEAR = 18; // px: so near a point is meant
const APART = 20; // px of the picture: nearer points give no scale
const WAIT = 600; // ms of rest before the place is stored
const AGAIN = 4000;
const LIMITS = {
  distance_mm: [50, 30000, "Between the two points", "length", true],
  x_mm: [-20000, 40000, "Middle from the rear", "length", false],
  y_mm: [-20000, 40000, "Middle from the right", "length", false],
  turn_deg: [-360, 360, "Turned to the left", "degrees", false],
  opacity: [0, 1, "Strength", "percent", false],
};

export function joinTrace(desk) {
  const { by, start, stage } = desk;
  let photo = start.photo;
  if (!photo) {
    desk.join("photo", { down: () => null, key: desk.viewKey });
    return;
  }
  const glass = stage.layer("ws-photo");
  const image = stage.node("image", {
    href: photo.address,
    width: photo.width_px,
    height: photo.height_px,
    preserveAspectRatio: "none",
  });
  glass.append(image);
  let chosen = null; // "a" or "b"
  let tapping = null; // the next point to be tapped
  let timer = 0;
  const placed = ({ seen, address, ...place }) => structuredClone(place);
  let last = placed(photo); // as it lay before what the hand does now
  const steps = {
    past: [],
    future: [],
    undo: () => back(steps.past, steps.future),
    redo: () => back(steps.future, steps.past),
  };

  // --- where a point of the picture lies on the roof, and back ---

  const apart = () =>
    photo.a.length && photo.b.length ? Math.hypot(photo.a[0] - photo.b[0], photo.a[1] - photo.b[1]) : 0;
  const scale = () =>
    photo.distance_mm && apart() >= APART ? photo.distance_mm / apart() : start.roof.length / photo.width_px;
  const turn = () => (photo.turn_deg * Math.PI) / 180;

  function onRoof([px, py]) {
    const [x, y] = [(px - photo.width_px / 2) * scale(), -(py - photo.height_px / 2) * scale()];
    return {
      x: photo.x_mm + x * Math.cos(turn()) - y * Math.sin(turn()),
      y: photo.y_mm + x * Math.sin(turn()) + y * Math.cos(turn()),
    };
  }

  function onPhoto({ x, y }) {
    const [dx, dy] = [x - photo.x_mm, y - photo.y_mm];
    const [px, py] = [
      dx * Math.cos(turn()) + dy * Math.sin(turn()),
      -dx * Math.sin(turn()) + dy * Math.cos(turn()),
    ];
    const held = (value, most) => Math.round(Math.min(Math.max(value, 0), most) * 100) / 100;
    return [
      held(px / scale() + photo.width_px / 2, photo.width_px),
      held(-py / scale() + photo.height_px / 2, photo.height_px),
    ];
  }

  // Changes the photo and leaves one of its points where it lies on the roof.
  function keeping(px, change) {
    const before = onRoof(px);
    change();
    const after = onRoof(px);
    photo.x_mm = round(photo.x_mm + before.x - after.x);
    photo.y_mm = round(photo.y_mm + before.y - after.y);
  }

  const round = (mm) => Math.round(mm * 100) / 100;

  function setPoint(name, at) {
    const px = onPhoto(at);
    keeping(px, () => {
      photo[name] = px;
    });
    changed();
  }

  // --- the hand ---

  function down(at) {
    if (tapping) return { tap: () => tap(at), move: () => {}, drop: () => {}, cancel: () => {} };
    const near = NEAR / stage.svg.getScreenCTM().a;
    const name = ["a", "b"].find((one) => {
      if (!photo[one].length) return false;
      const there = onRoof(photo[one]);
      return Math.hypot(there.x - at.x, there.y - at.y) <= near;
    });
    if (name) {
      choose(name);
      let to = null;
      return {
        move: (event, now) => {
          to = now;
          desk.marks();
          held = { name, at: now };
        },
        drop: () => {
          held = null;
          if (to) setPoint(name, to);
        },
        tap: () => choose(name),
        cancel: () => {
          held = null;
        },
      };
    }
    const from = { x: photo.x_mm, y: photo.y_mm };
    return {
      move: (event, now) => {
        photo.x_mm = round(from.x + now.x - at.x);
        photo.y_mm = round(from.y + now.y - at.y);
        draw();
      },
      drop: changed,
      tap: () => choose(null),
      cancel: () => {
        Object.assign(photo, { x_mm: from.x, y_mm: from.y });
        draw();
      },
    };
  }
  let held = null; // a point under the hand

  function tap(at) {
    const name = tapping;
    setPoint(name, at);
    choose(name);
    if (name === "a") return arm("b");
    arm(null);
    by("ws-photo-distance_mm").focus();
    desk.tell("Two points are set. Type the distance between them.");
  }

  function arm(name) {
    tapping = name;
    by("ws-photo-tap").setAttribute("aria-pressed", String(Boolean(name)));
    by("ws-stage").classList.toggle("ws-drawing", Boolean(name));
    words();
  }

  function choose(name) {
    chosen = name;
    if (name) {
      const at = onRoof(photo[name]);
      desk.tell(
        `Known point ${name === "a" ? 1 : 2}: ${show(at.x, start.units)} from the rear, ${show(at.y, start.units)} from the right.`,
      );
    }
    desk.marks();
  }

  const middle = () => [photo.width_px / 2, photo.height_px / 2];
  const turned = (by_) => {
    photo.turn_deg = Math.round((((photo.turn_deg + by_ + 540) % 360) - 180) * 100) / 100;
    changed();
  };
  const acts = {
    tap: () => arm(tapping ? null : "a"),
    left: () => turned(0.5),
    right: () => turned(-0.5),
    level() {
      if (apart() < APART) return;
      const [one, other] = [onRoof(photo.a), onRoof(photo.b)];
      const leans = (Math.atan2(other.y - one.y, other.x - one.x) * 180) / Math.PI;
      const nearest = Math.round(leans / 90) * 90;
      keeping(photo.a, () => {
        photo.turn_deg = Math.round((photo.turn_deg + nearest - leans) * 100) / 100;
      });
      changed();
    },
  };
  for (const button of document.querySelectorAll("[data-photo-do]")) {
    button.addEventListener("click", () => acts[button.dataset.photoDo]());
  }

  const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

  function key(event) {
    const arrow = ARROWS[event.key];
    const step = event.shiftKey ? 10 * GRID : GRID;
    const name = event.key.toLowerCase();
    if (arrow && chosen) {
      const at = onRoof(photo[chosen]);
      setPoint(chosen, { x: at.x + arrow[0] * step, y: at.y + arrow[1] * step });
    } else if (arrow) {
      photo.x_mm = round(photo.x_mm + arrow[0] * step);
      photo.y_mm = round(photo.y_mm + arrow[1] * step);
      changed();
    } else if (name === "n" || name === "p") nextPoint();
    else if (event.key === "[" || event.key === "]") turned(event.key === "[" ? 0.5 : -0.5);
    else if (event.key === "Escape") {
      arm(null);
      choose(null);
    } else return desk.viewKey(event);
    return true;
  }

  // Takes the first or the other known point; sets it a little off the middle where there is none yet.
  function nextPoint() {
    const name = chosen === "a" ? "b" : "a";
    if (!photo[name].length) {
      const [x, y] = middle();
      setPoint(name, onRoof([x + (name === "a" ? -0.2 : 0.2) * photo.width_px, y]));
    }
    choose(name);
  }

  const numbers = new NumberForm(by("ws-photo-form"), {
    units: start.units,
    limits: LIMITS,
    wrong: by("ws-photo-wrong"),
    set: (name, value) => {
      if (name === "distance_mm" && value !== null && apart() < APART) {
        by("ws-photo-wrong").textContent =
          "Between the two points: tap two known points on the photo first, well apart.";
        return;
      }
      if (name === "distance_mm")
        keeping(photo.a.length ? photo.a : middle(), () => {
          photo.distance_mm = value;
        });
      else photo[name] = name === "opacity" ? Math.round(value * 1000) / 1000 : value;
      changed();
    },
  });

  // --- showing and storing ---

  function draw() {
    const s = scale();
    image.setAttribute(
      "transform",
      `translate(${photo.x_mm} ${stage.roofWidth - photo.y_mm}) rotate(${-photo.turn_deg}) scale(${s}) translate(${-photo.width_px / 2} ${-photo.height_px / 2})`,
    );
    image.setAttribute("opacity", String(photo.opacity));
    desk.marks();
  }

  function words() {
    const first =
      photo.distance_mm && apart() >= APART
        ? `Scaled: the two points are ${show(photo.distance_mm, start.units)} apart.`
        : "Not scaled yet: tap two points whose distance you know, then type it. Until then the photo is as long as the roof.";
    by("ws-photo-how").textContent = tapping
      ? `Tap known point ${tapping === "a" ? 1 : 2} on the photo.`
      : first;
  }

  // Lays the photo as it lay a step before, or after.
  function back(from, to) {
    if (!from.length) return;
    to.push(last);
    last = from.pop();
    Object.assign(photo, structuredClone(last));
    arm(null);
    chosen = null;
    lies();
  }

  function changed() {
    if (!same(placed(photo), last)) {
      steps.past.push(last);
      steps.future.length = 0;
      last = placed(photo);
    }
    lies();
  }

  function lies() {
    desk.showSteps();
    draw();
    words();
    numbers.show("photo", photo);
    state("waiting", "Not saved yet");
    clearTimeout(timer);
    timer = setTimeout(save, WAIT);
  }

  function state(name, text) {
    by("ws-photo-state").dataset.state = name;
    by("ws-photo-state").textContent = text;
  }

  async function save() {
    const sent = structuredClone(photo);
    state("saving", "Saving …");
    try {
      const response = await post(by("ws-photo-form").dataset.place, sent);
      const got = await response.json();
      if (response.ok) {
        photo.seen = got.seen;
        if (JSON.stringify({ ...sent, seen: got.seen }) === JSON.stringify(photo)) state("saved", "Saved");
      } else if (response.status === 409 && got.theirs) {
        photo = got.theirs;
        last = placed(photo);
        steps.past.length = steps.future.length = 0;
        desk.showSteps();
        image.setAttribute("href", photo.address);
        draw();
        words();
        numbers.show("theirs", photo);
        state("refused", got.error);
      } else state("refused", `Not saved. ${got.error ?? ""}`);
    } catch {
      state("offline", "No connection. The place of the photo is sent when it is back.");
      timer = setTimeout(save, AGAIN);
    }
  }

  function marks() {
    const width = stage.shown.width / 500;
    const nodes = [];
    for (const name of ["a", "b"]) {
      if (!photo[name].length && held?.name !== name) continue;
      const at = held?.name === name ? held.at : onRoof(photo[name]);
      const [cx, cy] = [at.x, stage.roofWidth - at.y];
      nodes.push(
        stage.node("circle", {
          cx,
          cy,
          r: 8 * width,
          class: `ws-point${chosen === name ? " ws-point-chosen" : ""}`,
          "stroke-width": 1.5 * width,
        }),
      );
      nodes.push(
        stage.node("path", {
          d: `M${cx - 4 * width} ${cy}h${8 * width}M${cx} ${cy - 4 * width}v${8 * width}`,
          class: "ws-point",
          "stroke-width": width,
        }),
      );
    }
    return nodes;
  }

  by("ws-stage").classList.add("ws-has-photo");
  draw();
  words();
  numbers.show("photo", photo);
  desk.join("photo", {
    down,
    key,
    marks,
    steps,
    tapAway: () => choose(null),
    turn: (isOn) => {
      if (!isOn) arm(null);
    },
  });
}
