// How a stored number is written in the shop's units and read back; the factors come with the job.
import { show, thousands, withUnit, written } from "./words.js";

const plain = (amount, digits) => {
  const scale = 10 ** digits;
  const rounded = (Math.sign(amount) * Math.floor(Math.abs(amount) * scale + 0.5 + 1e-9)) / scale;
  const text = rounded.toFixed(digits);
  const trimmed = text.includes(".") ? text.replace(/\.?0+$/, "") : text;
  return trimmed === "-0" ? "0" : trimmed;
};

function inches(amount) {
  const total = Math.floor(Math.abs(amount) * 16 + 0.5);
  const whole = Math.floor(total / 16);
  let [top, bottom] = [total % 16, 16];
  while (top && top % 2 === 0) [top, bottom] = [top / 2, bottom / 2];
  const part = top ? `${top}/${bottom}` : "";
  const body = [whole || !part ? whole : "", part].filter((one) => one !== "").join(" ");
  return `${amount < 0 && total ? "-" : ""}${body}`;
}

const ruleOf = (job, unit) =>
  (unit ? job.units[unit] : null) ?? { label: unit ?? "", factor: 1, offset: 0, digits: 4 };

export const labelOf = (job, unit) => ruleOf(job, unit).label;
export const hasFractions = (job, unit) => Boolean(ruleOf(job, unit).is_fraction);
export const amountOf = (job, value, unit) => value * ruleOf(job, unit).factor + ruleOf(job, unit).offset;

// The stored value of an amount on the pad, without binary dust.
export function storedOf(job, amount, unit) {
  const rule = ruleOf(job, unit);
  return rule.factor === 1 && rule.offset === 0
    ? amount
    : Number(((amount - rule.offset) / rule.factor).toPrecision(12));
}

// The number alone, fine enough to be typed again.
export function amountText(job, value, unit) {
  const rule = ruleOf(job, unit);
  const amount = amountOf(job, value, unit);
  return rule.is_fraction ? inches(amount) : plain(amount, unit ? Math.max(rule.digits, 2) : 4);
}

export function shown(job, value, unit) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const rule = ruleOf(job, unit);
  const amount = amountOf(job, value, unit);
  const text = rule.is_fraction ? inches(amount) : thousands(plain(amount, unit ? rule.digits : 4));
  return withUnit(text, rule.label);
}

// A quantity in a sentence, written for either kind of shop, and a text with these marks opened: as in the
// engine (customary.py).
export const pair = (si, us) => `‹${si}|${us}›`;

const SIDES = { metric: "$1", imperial: "$2" };
export const inUnits = (text, units) => text.replace(/‹([^‹|›]*)\|([^‹|›]*)›/g, SIDES[units] ?? "$1 ($2)");

// What the engine's units are called on the customary side, how much of them it is, its zero, how many
// decimals fewer it takes (customary.py).
const CUSTOMARY = {
  N: ["lbf", 4.448222, 0, 0],
  kg: ["lb", 0.45359237, 0, 1],
  m: ["ft", 0.3048, 0, 1],
  mm: ["in", 25.4, 0, 0],
  km: ["mi", 1.609344, 0, 0],
  "°C": ["°F", 5 / 9, 32, 2],
  K: ["°F", 5 / 9, 0, 1],
  "m/s": ["mph", 0.44704, 0, 2],
  Pa: ["psf", 4.448222 / 0.3048 ** 2, 0, -1],
  N·m: ["in-lb", 4.448222 * 0.0254, 0, 2],
  "m²": ["ft²", 0.3048 ** 2, 0, 1],
  "kg/m²": ["lb/ft²", 0.45359237 / 0.3048 ** 2, 0, 0],
  "mΩ/m": ["mΩ/ft", 1 / 0.3048, 0, 0],
};

// A quantity for either kind of shop; alike in both, it is said once.
export function showBoth(value, unit, digits = 0) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const here = CUSTOMARY[unit];
  if (!here) return show(value, unit, digits);
  const [name, size, zero, fewer] = here;
  const amount = value / size + zero;
  const us = name === "in" ? `${eighths(amount)} in` : show(amount, name, Math.max(0, digits - fewer));
  return pair(show(value, unit, digits), us);
}

// Inches to an eighth, as a tape shows them; less than half of that in decimals.
export function eighths(amount) {
  const total = Math.floor(Math.abs(amount) * 8 + 0.5);
  if (!total) return written(amount, 2, true);
  let [top, bottom] = [total % 8, 8];
  while (top && top % 2 === 0) [top, bottom] = [top / 2, bottom / 2];
  const whole = Math.floor(total / 8);
  const words = [whole ? thousands(String(whole)) : "", top ? `${top}/${bottom}` : ""].filter(Boolean);
  return `${amount < 0 ? "-" : ""}${words.join(" ")}`;
}

export const percent = (fraction, digits = 2) =>
  fraction === null || fraction === undefined ? "–" : `${plain(fraction * 100, digits)}%`;
