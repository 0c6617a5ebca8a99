// Writes numbers in sentences the way the server writes them.

// As Python's %g: six digits that count, no zeros at the end.
export function g(value) {
  if (!Number.isFinite(value)) return String(value);
  if (value === 0) return Object.is(value, -0) ? "-0" : "0";
  const [digits, power] = exponential(value, 5).split("e");
  const exponent = Number(power);
  if (exponent < -4 || exponent >= 6) {
    return `${trimmed(digits)}e${exponent < 0 ? "-" : "+"}${String(Math.abs(exponent)).padStart(2, "0")}`;
  }
  return trimmed(fixed(value, Math.max(0, 5 - exponent)));
}

// A number with so many digits, zeros at the end gone, with its unit.
export function show(value, unit = "", digits = 2) {
  if (value === null || value === undefined || !Number.isFinite(value)) return `– ${unit}`.trimEnd();
  return withUnit(written(value, digits, true), unit);
}

// Degree and percent stand close to their number.
export const withUnit = (text, unit) => `${text}${["°", "%", ""].includes(unit) ? "" : " "}${unit}`;

export function written(value, digits, trims) {
  const text = trims ? trimmed(fixed(value, digits)) : fixed(value, digits);
  return text === "-0" ? "0" : thousands(text);
}

export const thousands = (text) => text.replace(/^-?\d+/, (whole) => whole.replace(/\B(?=(\d{3})+$)/g, ","));

const trimmed = (text) => (text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text);

// As toFixed and toExponential, but a number that lies exactly between two goes to the even one, as in
// Python.
export function fixed(value, digits) {
  return even(value.toFixed(digits), value.toFixed(Math.min(100, digits + 60)), digits);
}

function exponential(value, digits) {
  const [exact, power] = value.toExponential(100).split("e");
  const [short, shortPower] = value.toExponential(digits).split("e");
  return power === shortPower ? `${even(short, exact, digits)}e${power}` : `${short}e${shortPower}`;
}

function even(short, exact, digits) {
  const at = exact.indexOf(".") + 1 + digits;
  if (!/^50*$/.test(exact.slice(at))) return short;
  const down = exact.slice(0, digits ? at : at - 1);
  return Number(down.at(-1)) % 2 ? short : down;
}
