// The sentence of a check: the engine's own with the numbers put in, else one in general words.
import { eighths, showBoth } from "../units.js";
import { written } from "../words.js";

export function sentenceOf(reader, tables, check, atLeast) {
  const table = tables.said?.[check.verdict];
  const cell = table?.dims.map((axis) => reader.settings.option(axis)).join(",");
  const template = table === undefined ? undefined : reader.sums.words[table.by[cell]];
  if (template === undefined) return inGeneral(check, atLeast);
  return template.replace(
    /\{(\w+);([^;]+);(\d);(\d)(?:;([^;]+);([^;}]+))?\}/g,
    (_, name, scale, digits, trims, size = 1, zero = 0) => {
      const amount = (named(reader, check, name) * Number(scale)) / Number(size) + Number(zero);
      return trims === "2" ? eighths(amount) : written(amount, Number(digits), trims === "1");
    },
  );
}

function named(reader, check, name) {
  if (name[0] === "x") return reader.x(Number(name.slice(1)));
  return { v: check.value, l: check.limit, b: check.block, d: check.value - check.limit }[name];
}

function inGeneral(check, atLeast) {
  if (check.verdict === "not_enough_data") return `${check.title}: not enough data.`;
  const sense = atLeast ? "needs at least" : "limit";
  return `${check.title}: ${shown(check.value, check.unit)}, ${sense} ${shown(check.limit, check.unit)}.`;
}

function shown(value, unit) {
  return unit === "fraction" && value !== null
    ? `${written(value * 100, 2, true)}%`
    : showBoth(value, unit, 2);
}
