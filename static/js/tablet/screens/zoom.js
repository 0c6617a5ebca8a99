// A drawing to be looked at closely: two fingers, buttons or keys make it larger, one finger moves it.
import { h, icon } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { s } from "../svg.js";

const MOST = 12;
const STEP = 1.5;
const DRAG_PX = 6; // less is a tap
const [LEAST, LARGEST] = [0.36, 0.62]; // of the window, in height

// How each drawing was last looked at: news of other work draws the page anew and must not move it.
const looks = new Map();

// ``area`` is what the whole drawing covers, in its own units; ``draw(perPx)`` returns its parts, told how
// many units a pixel stands for; ``focus()`` is the place that the first step of zooming goes to.
export function zoomBox({ label, area, draw, focus = () => null }) {
  const svg = s("svg", { class: "zoom-svg", role: "img", "aria-label": label });
  const key = `${location.hash} ${label}`;
  const whole = { zoom: 1, x: area.x + area.width / 2, y: area.y + area.height / 2 };
  const at = { svg, area, draw, focus, key, ...whole, ...looks.get(key) };
  const button = (shape, words, change) =>
    h(
      "button",
      { class: "btn btn-secondary", type: "button", onclick: () => zoomTo(at, change) },
      icon(shape),
      ` ${words}`,
    );
  const box = h(
    "div",
    {
      class: "zoom-box",
      tabindex: "0",
      role: "region",
      "aria-label": interpolate(gettext("{label}: arrow keys move it"), { label }),
    },
    svg,
  );
  box.addEventListener("keydown", (event) => byKey(at, event));
  byFingers(at);
  new ResizeObserver(() => render(at)).observe(box);
  return {
    element: h(
      "div",
      {},
      box,
      h(
        "div",
        { class: "zoom-bar" },
        button("zoom-in", gettext("Larger"), STEP),
        button("zoom-out", gettext("Smaller"), 1 / STEP),
        button("eye", gettext("Whole"), 0),
      ),
    ),
    redraw: () => render(at),
  };
}

// How many units a pixel stands for.
const perPx = (at) => {
  const { clientWidth: wide, clientHeight: high } = at.svg;
  return Math.max(at.area.width / wide, at.area.height / high) / at.zoom;
};

function render(at) {
  const { svg, area } = at;
  const wide = svg.clientWidth;
  if (!wide) return;
  const natural = (wide * area.height) / area.width;
  const tall = Math.max(LEAST * innerHeight, Math.min(LARGEST * innerHeight, natural));
  svg.style.height = `${Math.round(tall)}px`;
  svg.style.touchAction = at.zoom > 1 ? "none" : "pan-y";
  const unit = perPx(at);
  const [w, high] = [unit * wide, unit * svg.clientHeight];
  at.x = within(at.x, area.x, area.width, w);
  at.y = within(at.y, area.y, area.height, high);
  svg.setAttribute(
    "viewBox",
    [at.x - w / 2, at.y - high / 2, w, high].map((one) => one.toFixed(2)).join(" "),
  );
  looks.set(at.key, { zoom: at.zoom, x: at.x, y: at.y });
  svg.replaceChildren(...at.draw(unit));
}

// The middle of what is seen: never so far out that only paper is left.
function within(middle, start, size, seen) {
  if (seen >= size) return start + size / 2;
  return Math.min(start + size - seen / 2, Math.max(start + seen / 2, middle));
}

function zoomTo(at, change) {
  if (at.zoom === 1 && change > 1) [at.x, at.y] = at.focus() ?? [at.x, at.y];
  zoomBy(at, change);
}

function zoomBy(at, change, [px, py] = [at.svg.clientWidth / 2, at.svg.clientHeight / 2]) {
  const before = perPx(at);
  at.zoom = change ? Math.min(MOST, Math.max(1, at.zoom * change)) : 1;
  const after = perPx(at); // what lies under the fingers stays there
  at.x += (px - at.svg.clientWidth / 2) * (before - after);
  at.y += (py - at.svg.clientHeight / 2) * (before - after);
  render(at);
}

function move(at, dx, dy) {
  const unit = perPx(at);
  at.x -= dx * unit;
  at.y -= dy * unit;
  render(at);
}

const KEYS = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] };

function byKey(at, event) {
  const way = KEYS[event.key];
  if (way && at.zoom > 1) move(at, ...way);
  else if (event.key === "+" || event.key === "=") zoomBy(at, STEP);
  else if (event.key === "-") zoomBy(at, 1 / STEP);
  else return;
  event.preventDefault();
}

function byFingers(at) {
  const fingers = new Map();
  const place = ({ clientX, clientY }) => [clientX, clientY];
  at.svg.addEventListener("pointerdown", (event) => fingers.set(event.pointerId, place(event)));
  for (const name of ["pointerup", "pointercancel", "pointerleave"])
    at.svg.addEventListener(name, (event) => fingers.delete(event.pointerId));
  at.svg.addEventListener("pointermove", (event) => {
    if (!fingers.has(event.pointerId)) return;
    const was = [...fingers.values()];
    const [x, y] = place(event);
    const [ox, oy] = fingers.get(event.pointerId);
    if (fingers.size === 1 && (at.zoom === 1 || Math.hypot(x - ox, y - oy) < DRAG_PX)) return;
    fingers.set(event.pointerId, [x, y]);
    if (fingers.size === 1) move(at, x - ox, y - oy);
    else if (fingers.size === 2) pinch(at, was, [...fingers.values()]);
  });
}

function pinch(at, was, now) {
  const apart = ([[ax, ay], [bx, by]]) => Math.hypot(ax - bx, ay - by);
  const middle = ([[ax, ay], [bx, by]]) => [(ax + bx) / 2, (ay + by) / 2];
  const [ox, oy] = middle(was);
  const [x, y] = middle(now);
  const { left, top } = at.svg.getBoundingClientRect();
  zoomBy(at, apart(now) / Math.max(1, apart(was)), [x - left, y - top]);
  if (at.zoom > 1) move(at, x - ox, y - oy);
}
