// How a check as built differs from the accepted one: crossed a line, moved, new, or not to be worked out
// here.

import { showBoth } from "../units.js";
import { written } from "../words.js";

const SEVERITY = { pass: 0, caution: 1, not_enough_data: 2, block: 3 };
const WORDS = { pass: "pass", caution: "caution", not_enough_data: "not enough data", block: "block" };
const MOVED = 0.05; // change of a value worth telling, as sizing.compare_checks [-]
const ASK = "The tablet cannot work this out: ask the office, or wait for the network.";

// Returns the difference, null when nothing worth telling changed.
export function compared(sums, key, after) {
  if (after === null) return null;
  const before = sums.before[key] ?? null;
  if (after.isAsked) return asked(sums, key, before?.title ?? key);
  const made = (kind, sentence) => changeOf(sums, key, { before, after, kind, sentence });
  if (before === null) return after.verdict === "pass" ? null : made("new", after.sentence);
  const rise = SEVERITY[after.verdict] - SEVERITY[before.verdict];
  const went = `${after.title} went from ${WORDS[before.verdict]} to ${WORDS[after.verdict]}.`;
  if (rise > 0) return made("crossed", `${went} ${after.sentence}`);
  if (rise < 0) return made("cleared", went);
  const change = changed(before.value, after.value);
  return change === null || Math.abs(change) <= MOVED
    ? null
    : made("moved", movedWords(before, after, change));
}

function changeOf(sums, key, { before, after, kind, sentence }) {
  return {
    key,
    kind,
    subject: sums.subjects[key] ?? "",
    title: after.title,
    verdict: after.verdict,
    value: after.value,
    limit: after.limit,
    unit: after.unit,
    sentence,
    before: before && { verdict: before.verdict, value: before.value },
  };
}

function movedWords(before, after, change) {
  const [from, to] = [before.value, after.value].map((value) => showBoth(value, after.unit, 2));
  return `${after.title} moved by ${written(change * 100, 1, true)}%: ${from} → ${to}.`;
}

function changed(before, after) {
  if (before === null || after === null) return null;
  if (before === after) return 0;
  return before ? (after - before) / Math.abs(before) : 1;
}

// Returns a check that only the office can work out.
export const asked = (sums, key, title) => unknown(sums, key, title, `${title}: ${ASK}`);

export function unknown(sums, key, title, sentence) {
  return {
    key,
    kind: "unknown",
    subject: sums.subjects[key] ?? "",
    title,
    verdict: "not_enough_data",
    value: null,
    limit: null,
    unit: "",
    sentence,
    before: sums.before[key] ?? null,
    step_names: [],
  };
}

export function worstFirst(one, other) {
  const rank = SEVERITY[other.verdict] - SEVERITY[one.verdict];
  if (rank) return rank;
  const [first, second] = [`${one.kind}|${one.key}`, `${other.kind}|${other.key}`];
  return first < second ? -1 : Number(first > second);
}
