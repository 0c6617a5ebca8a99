// The count of holes: made, sealed under and over, patched; the same as checklists/rules/seals.py, and a test
// holds them together.

import { valueAt } from "../steps.js";
import { fitted } from "./install.js";

const sum = (numbers) => numbers.reduce((total, number) => total + number, 0);

// Return { groups: [{ name, title, made, under, over }], made, under, over, cableHoles, cableHolesSealed,
// unused, patched, sentences, verdict }; null where there is nothing to count.
export function sealCount(job, state) {
  const built = fitted(job, state);
  const groups = Object.entries(built.feet)
    .filter(([, feet]) => feet)
    .map(([name, feet]) => ({
      name,
      title: `panel ${name}`,
      made: feet * built.fastenersPerFoot,
      under: sealedAtFeet(job, state, "seal_under", name, feet),
      over: sealedAtFeet(job, state, "seal_over", name, feet),
    }));
  if (built.glandScrews) {
    groups.push({
      name: "gland",
      title: "gland box",
      made: built.glandScrews,
      under: wholeOf(valueAt(job, state, "seal_under", "holes", "gland:box")),
      over: wholeOf(valueAt(job, state, "seal_over", "holes", "gland:box")),
    });
  }
  const found = {
    groups,
    made: sum(groups.map((group) => group.made)),
    under: sum(groups.map((group) => group.under ?? 0)),
    over: sum(groups.map((group) => group.over ?? 0)),
    cableHoles: built.cableHoles,
    cableHolesSealed: wholeOf(valueAt(job, state, "cable_entry", "cable_holes_sealed")),
    unused: built.unused,
    patched: wholeOf(valueAt(job, state, "edges_metals", "patched")),
  };
  return { ...found, sentences: sentencesOf(found), verdict: verdictOf(found, built) };
}

// A foot taken away no longer counts.
function sealedAtFeet(job, state, role, panel, feet) {
  const values = Array.from({ length: feet }, (_, at) =>
    valueAt(job, state, role, `foot_${at + 1}`, `panel:${panel}`),
  );
  const counted = values.filter((value) => value !== null).map(Math.trunc);
  return counted.length ? sum(counted) : null;
}

const wholeOf = (value) => (typeof value === "number" ? Math.trunc(value) : null);

function sentencesOf(found) {
  const out = [missing(found, "under"), missing(found, "over")];
  if (found.cableHolesSealed !== found.cableHoles) {
    out.push(`Cable holes: ${found.cableHoles} made, ${found.cableHolesSealed ?? "not counted"} sealed`);
  }
  if ((found.patched ?? 0) < found.unused)
    out.push(`${found.unused} unused holes to patch, ${found.patched ?? 0} patched`);
  return out.filter(Boolean);
}

function missing(found, side) {
  const wrong = found.groups.filter((group) => (group[side] ?? 0) !== group.made);
  if (!wrong.length) return "";
  const have = found[side];
  const where = wrong
    .map((group) => {
      const short = group.made - (group[side] ?? 0);
      return short > 0 ? `${group.title} ${short}` : `${group.title} ${-short} too many`;
    })
    .join(", ");
  const head = `Sealed ${side}: ${have} of ${found.made}`;
  if (have === found.made) return `${head}, but a count is in the wrong place (${where})`;
  if (have > found.made) return `${head}, ${have - found.made} too many (${where})`;
  return `${head}, ${found.made - have} ${side} missing (${where})`;
}

// As sizing.seal_check: nothing counted yet is unknown, a count that differs blocks.
function verdictOf(found, built) {
  const penetrations = sum(Object.values(built.feet)) * built.fastenersPerFoot + built.glandScrews;
  const total = (side) => {
    const known = found.groups.map((group) => group[side]).filter((number) => number !== null);
    return known.length ? sum(known) : null;
  };
  const counts = [
    [total("under"), penetrations],
    [total("over"), penetrations],
    [found.cableHolesSealed, built.cableHoles],
  ];
  if (counts.every(([have, want]) => have === want)) return "pass";
  const isUnknown = counts.some(([have]) => have === null);
  const isShort = counts.some(([have, want]) => have !== null && have !== want);
  return isUnknown && !isShort ? "not_enough_data" : "block";
}
