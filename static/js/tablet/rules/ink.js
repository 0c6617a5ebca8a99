// What a signature at a step is: a name in print and the strokes above it, in a box of 1000 by 300; the same
// limits as checklists/rules/ink.py. Without strokes the typed name is the signature.
export const WIDTH = 1000;
export const HEIGHT = 300;
const NAME_LENGTH = 150;
const INK_LENGTH = 60_000;
const STROKES = /^(?:M\d{1,4} \d{1,4}(?:L\d{1,4} \d{1,4})+)*$/;
const UNPRINTABLE = /[\p{C}\p{Zl}\p{Zp}]|(?! )\p{Zs}/u;

// What is wrong with a value as a signature; empty when nothing is.
export function inkProblem(value) {
  const keys = value && typeof value === "object" ? Object.keys(value).sort().join() : "";
  if (keys !== "ink,name") return "a signature has a name and ink, nothing else.";
  const { name, ink } = value;
  if (typeof name !== "string" || typeof ink !== "string") return "name and ink are text.";
  if (!name.trim()) return "the name is missing in print.";
  if (name !== name.trim() || UNPRINTABLE.test(name))
    return "the name has blank ends or marks that cannot be printed.";
  const length = [...name].length;
  if (length > NAME_LENGTH) return `the name has at most ${NAME_LENGTH} characters, got ${length}.`;
  if (ink.length > INK_LENGTH || !STROKES.test(ink)) return "the ink is no strokes.";
  const isOff = [...ink.matchAll(/(\d{1,4}) (\d{1,4})/g)].some(
    ([, x, y]) => Number(x) > WIDTH || Number(y) > HEIGHT,
  );
  return isOff ? "the ink runs off the pad." : "";
}

export const isInk = (value) =>
  value !== null && typeof value === "object" && Object.keys(value).sort().join() === "ink,name";

export const inkWords = ({ name, ink }) => `signed by ${name}${ink ? "" : ", typed name"}`;

export function inkSvg(ink) {
  if (!ink || !STROKES.test(ink)) return "";
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img">` +
    `<title>Signature</title><path d="${ink}" fill="none" stroke="#1c2224" stroke-width="5"` +
    ` stroke-linecap="round" stroke-linejoin="round"/></svg>`
  );
}

// The strokes of a drawing pad of this size as text: each a list of points, put into the box.
export function inkOf(strokes, { width, height }) {
  const scale = Math.min(WIDTH / Math.max(1, width), HEIGHT / Math.max(1, height));
  const at = (value, most) => Math.min(most, Math.max(0, Math.round(value * scale)));
  return strokes
    .filter((points) => points.length)
    .map((points) => {
      const told = points.map(({ x, y }) => `${at(x, WIDTH)} ${at(y, HEIGHT)}`);
      const [first, ...rest] = told.filter((one, place) => one !== told[place - 1]);
      return `M${[first, ...(rest.length ? rest : [first])].join("L")}`;
    })
    .join("");
}
