// The roof as it is measured out: black on white, words of one size at any zoom, feet with the numbers of
// their fields; of the thing that is chosen the distances from the rear and from the right edge.
import { gettext, interpolate } from "../language.js";
import { s } from "../svg.js";

const TEXT_PX = 21;
const LETTER = 0.55; // width of a letter over its size, on the wide side

// What the drawing covers: the roof, and around it room for its words.
export function areaOf(roof) {
  const edge = roof.edge_radius_mm + roof.length_mm * 0.03;
  return {
    x: -edge,
    y: -edge,
    width: roof.length_mm + 2 * edge + roof.length_mm * 0.08,
    height: roof.width_mm + 2 * edge,
  };
}

// The middle of a thing, in the units of the drawing.
export function middleIn(roof, { at_mm: point, box_mm: box }) {
  const [x, y] = point ?? middleOf(box);
  return [x, roof.width_mm - y];
}

// The parts of the drawing; ``chosen`` is the key of a thing, ``choose(key)`` is told the one that is tapped.
export function roofParts(roof, unit, chosen, choose) {
  const at = { roof, unit, up: (y) => roof.width_mm - y };
  const things = thingsOf(roof);
  const mine = things.find((one) => one.key === chosen);
  return [
    ...ground(at),
    ...things.map((one) => {
      const group = s("g", {
        class: `draw-${one.kind}${one === mine ? " draw-chosen" : ""}`,
        "data-key": one.key,
      });
      group.append(...SHAPES[one.kind](at, one, one === mine));
      group.addEventListener("click", () => choose(one.key));
      return group;
    }),
    ...(mine ? distances(at, mine) : []),
    words(
      at,
      roof.length_mm + roof.edge_radius_mm + roof.length_mm * 0.05,
      roof.width_mm / 2,
      "FRONT →",
      "draw-strong",
    ),
  ];
}

// A thing whose name has no room in the drawing stands there by its letter.
const LETTERS = "abcdefghijkmnpqrstuvwxyz";
function thingOf(one, place) {
  const letter = LETTERS[place % LETTERS.length];
  return { ...one, letter, key: `thing:${place}`, kind: "thing", title: `${letter} ${one.name}` };
}

// Everything that can be chosen: { key, kind, title, …measures }.
export function thingsOf(roof) {
  return [
    ...roof.things.map(thingOf),
    ...roof.panels.map((one) => ({
      ...one,
      key: `panel:${one.number}`,
      kind: "panel",
      title: interpolate(gettext("Panel {number}"), { number: one.number }),
    })),
    ...(roof.gland ? [{ ...roof.gland, key: "gland", kind: "gland", title: gettext("Entry gland") }] : []),
  ];
}

function* ground({ roof, unit, up }) {
  const edge = roof.edge_radius_mm;
  const outer = { x: -edge, y: -edge, width: roof.length_mm + 2 * edge, height: roof.width_mm + 2 * edge };
  yield s("rect", { class: "draw-roof", ...outer, rx: edge, "stroke-width": 3 * unit });
  if (edge)
    yield s("rect", {
      class: "draw-line",
      x: 0,
      y: 0,
      width: roof.length_mm,
      height: roof.width_mm,
      "stroke-width": unit,
      "stroke-dasharray": `${8 * unit} ${5 * unit}`,
    });
  for (const x of roof.rafters_mm)
    yield s("line", {
      class: "draw-line",
      x1: x,
      y1: up(0),
      x2: x,
      y2: up(roof.width_mm),
      "stroke-width": 1.2 * unit,
      "stroke-dasharray": `${3 * unit} ${6 * unit}`,
    });
}

const boxOf = ({ up }, [x0, y0, x1, y1]) => ({ x: x0, y: up(y1), width: x1 - x0, height: y1 - y0 });
const middleOf = ([x0, y0, x1, y1]) => [(x0 + x1) / 2, (y0 + y1) / 2];
const fits = ({ unit }, text, room) => text.length * LETTER * TEXT_PX * unit <= room;

const SHAPES = { panel, thing, gland };

function* panel(at, one, isChosen) {
  const { unit } = at;
  const { box_mm: box } = one;
  const [x, y] = middleOf(box);
  const [wide, high] = [box[2] - box[0], box[3] - box[1]];
  const line = TEXT_PX * unit;
  yield s("rect", { class: "draw-face", ...boxOf(at, box), "stroke-width": (isChosen ? 6 : 3) * unit });
  const isRoomy = fits(at, one.title, wide) && high > 4.5 * line; // two rows of feet above and below
  const hasSize = fits(at, one.size, wide) && high > 6 * line;
  yield words(at, x, y + (hasSize ? 0.6 * line : 0), isRoomy ? one.title : String(one.number), "draw-strong");
  if (hasSize) yield words(at, x, y - 0.6 * line, one.size);
  const half = 6 * unit;
  const side = { width: 2 * half, height: 2 * half };
  for (const { at_mm: foot } of one.feet)
    yield s("rect", { class: "draw-foot", x: foot[0] - half, y: at.up(foot[1]) - half, ...side });
  if (isChosen || (isRoomy && areApart(one.feet, unit)))
    for (const number of one.feet.keys()) yield footWords(at, one, number);
}

const areApart = (feet, unit) =>
  feet.every(({ at_mm: [x, y] }, place) =>
    feet.slice(place + 1).every(({ at_mm: other }) => Math.hypot(x - other[0], y - other[1]) > 45 * unit),
  );

// The number of a foot stands inside its panel, so that neighbors do not mix.
function footWords(at, { feet, box_mm: box }, place) {
  const [x, y] = feet[place].at_mm;
  const [mx, my] = middleOf(box);
  const [dx, dy] = [Math.sign(mx - x), Math.sign(my - y)];
  const isOnLongSide = Math.abs(y - box[1]) < 1 || Math.abs(y - box[3]) < 1;
  const [ix, iy] = isOnLongSide ? [0, dy] : [dx, 0];
  return words(at, x + ix * 20 * at.unit, y + iy * 20 * at.unit, String(place + 1), "draw-foot-number");
}

function* thing(at, one) {
  const { x, y, width, height } = boxOf(at, one.box_mm);
  const line = {
    "stroke-width": 2 * at.unit,
    "stroke-dasharray": one.is_gone ? `${6 * at.unit} ${4 * at.unit}` : null,
  };
  const face = { class: "draw-face", ...line };
  if (one.is_round)
    yield s("ellipse", { ...face, cx: x + width / 2, cy: y + height / 2, rx: width / 2, ry: height / 2 });
  else yield s("rect", { ...face, x, y, width, height });
  if (!one.is_round && !one.is_gone)
    yield s("path", {
      class: "draw-line",
      d: `M${x} ${y}l${width} ${height}M${x + width} ${y}l${-width} ${height}`,
      "stroke-width": at.unit,
    });
  const hasRoom = fits(at, one.name, width) && height > 1.5 * TEXT_PX * at.unit;
  const name = hasRoom ? one.name : one.letter;
  yield words(at, x + width / 2, at.up(y + height / 2), name, "draw-strong");
}

function* gland(at, { at_mm: [x, y] }, isChosen) {
  const size = 13 * at.unit;
  const line = { "stroke-width": (isChosen ? 5 : 3) * at.unit };
  yield s("circle", { class: "draw-face", cx: x, cy: at.up(y), r: size, ...line });
  yield s("path", {
    class: "draw-line",
    d: `M${x - size} ${at.up(y)}h${2 * size}M${x} ${at.up(y) - size}v${2 * size}`,
    ...line,
  });
  yield words(at, x, y - 32 * at.unit, "gland");
}

// From the rear and from the right edge to the corner next to both, or to the middle of the gland.
function* distances(at, one) {
  const [x, y] = one.at_mm ?? one.box_mm;
  const { unit } = at;
  const line = { class: "draw-distance", "stroke-width": 4 * unit };
  yield s("line", { ...line, x1: 0, y1: at.up(y), x2: x, y2: at.up(y) });
  yield s("line", { ...line, x1: x, y1: at.up(0), x2: x, y2: at.up(y) });
  const half = (one.from_rear.length * LETTER * TEXT_PX * unit) / 2;
  yield words(at, Math.max(x / 2, half), y + TEXT_PX * unit, one.from_rear, "draw-strong draw-red");
  const beside = (one.from_right.length * LETTER * TEXT_PX * unit) / 2 + 10 * unit;
  const isTight = x < 2 * beside; // no room behind it: in front of it
  yield words(at, isTight ? x + beside : x - beside, y / 2, one.from_right, "draw-strong draw-red");
}

function words({ unit, up }, x, y, text, style = "") {
  return s(
    "text",
    {
      class: `draw-words ${style}`,
      x,
      y: up(y) + 0.36 * TEXT_PX * unit,
      "font-size": TEXT_PX * unit,
      "stroke-width": 5 * unit,
      "text-anchor": "middle",
    },
    text,
  );
}
