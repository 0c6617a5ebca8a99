// How a stored number is written in the shop's units and read back; the factors come with the job.

import { thousands, withUnit } from "./words.js";

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

export const percent = (fraction, digits = 2) =>
  fraction === null || fraction === undefined ? "–" : `${plain(fraction * 100, digits)}%`;
