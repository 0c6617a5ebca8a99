// What the meter should read: strings against sun and cell temperature, first charge, measured drop,
// insulation, cure clock, moisture; the same as checklists/rules/readings.py. What the engine knows of the
// panels comes with the job as plain numbers (checklists/tables/readings.py); a test holds both against each
// other.

import { codeOf, once, valueAt } from "../steps.js";
import { g, show } from "../words.js";
import { planAsBuilt, rowAsBuilt } from "./as_built.js";
import { readingWords } from "./reading_words.js";

// Return { field name: { mark, sentence, expected, low, high } } for the readings of one step.
export function judgedReadings(step, ctx) {
  const found = {};
  const tables = ctx.job.sums?.readings;
  if (!isBegun(ctx)) return found;
  for (const spec of step.fields) {
    const judge = (tables && JUDGES[spec.judge]) || PLAIN_JUDGES[spec.judge];
    const judged = judge ? judge(step, spec.name, ctx, tables) : null;
    if (judged) found[spec.name] = judged;
  }
  return found;
}

// Return what the strings of one controller say against each other: sentences that keep the readings' hold
// shut.
export function alikeSentences(ctx) {
  const tables = ctx.job.sums?.readings;
  if (!tables || !isBegun(ctx)) return [];
  const { strings, controllers } = plan(ctx, tables);
  const found = [];
  for (const controller of Object.values(controllers)) {
    if (new Set(controller.strings.map((id) => strings[id].ns)).size > 1) continue;
    for (const name of ["voc_v", "isc_a"]) {
      const known = controller.strings
        .map((id) => at(ctx, "string_tests", name, `string:${id}`))
        .filter((value) => value !== null);
      const top = Math.max(0, ...known.map(Math.abs));
      if (known.length < 2 || top <= 0) continue;
      const spread = (top - Math.min(...known)) / top;
      if (!isWithin(spread, tables.alike)) found.push(`The strings differ by ${show(spread * 100, "%")}.`);
    }
  }
  return found;
}

const at = (ctx, role, name, subject) => valueAt(ctx.job, ctx.state, role, name, subject);
const plan = (ctx, tables) => tables.plans[ctx.planIndex ?? planAsBuilt(ctx.job, ctx.state)];
const isWithin = (value, limit) =>
  value < limit ||
  Math.abs(value - limit) <= Math.max(1e-9 * Math.max(Math.abs(value), Math.abs(limit)), 1e-12);
const nameOf = (step) => step.subject.slice(step.subject.indexOf(":") + 1);
const made = (mark, sentence = "", more = {}) => ({
  mark,
  sentence,
  expected: null,
  low: null,
  high: null,
  ...more,
});

const anyRead = once((job, state) =>
  job.steps.some(
    (step) =>
      step.is_in_scope &&
      step.fields.some((spec) => spec.judge) &&
      Object.keys(state.get(step.pk)?.fields ?? {}).length > 0,
  ),
);
const isBegun = ({ job, state }) => anyRead(job, state);

function sunOf(ctx, tables) {
  const irradiance = at(ctx, "sun", "g_wm2");
  const cell = at(ctx, "sun", "t_cell_c");
  if (irradiance === null || cell === null || irradiance < tables.least_sun) return null;
  return { irradiance, cell, isRough: at(ctx, "sun", "sun_meter") !== "calibrated" };
}

function string(step, name, ctx, tables) {
  const sun = sunOf(ctx, tables);
  if (!sun) {
    const where = codeOf(ctx.job, "sun");
    return made("missing", `enter the sun and the cell temperature first (${where}).`);
  }
  const own = plan(ctx, tables).strings[nameOf(step)];
  if (!own?.panel) return made("caution", "no expected value: the panel's data sheet lacks its coefficient.");
  const expected = expectedOf(own, sun, tables);
  const isVolts = name === "voc_v";
  const value = isVolts ? expected.voc : expected.isc;
  const share = isVolts || !sun.isRough ? tables.band : tables.rough_band;
  const low = value * (1 - share);
  const high = value * (1 + share);
  const measured = ctx.state.get(step.pk)?.fields?.[name]?.value ?? null;
  const [mark, sentence] = readingWords(
    isVolts,
    measured,
    value,
    [low, high],
    expected,
    sun,
    others(step, name, ctx),
    tables,
  );
  return made(mark, mark === "ok" ? "" : sentence, { expected: value, low, high });
}

export function expectedOf({ ns, panel }, sun, tables) {
  const { cell, irradiance } = sun;
  const log = Math.log(irradiance / 1000);
  const voc = Math.max(0, panel.voc_a + panel.voc_b * cell + panel.voc_c * (cell + tables.kelvin) * log);
  return { voc, isc: (irradiance / 1000) * (panel.isc_a + panel.isc_b * (cell - 25)), panelVoc: voc / ns };
}

function others(step, name, ctx) {
  return ctx.job.steps
    .filter((other) => other.is_in_scope && other.role === step.role && other.pk !== step.pk)
    .map((other) => ctx.state.get(other.pk)?.fields?.[name]?.value ?? null)
    .filter((value) => value !== null);
}

function controllerAmps(step, name, ctx, tables) {
  const sun = sunOf(ctx, tables);
  const batteryV = at(ctx, "pv_on", "battery_v", step.subject);
  const own = plan(ctx, tables).controllers[nameOf(step)];
  if (!sun || !batteryV || !own || own.power_a === null) return null;
  const power = (own.power_a + own.power_b * sun.cell) * (sun.irradiance / 1000);
  const expected = Math.min(own.rated_a, Math.max(0, power / batteryV));
  const low = tables.charge_share * expected;
  const measured = at(ctx, "pv_on", name, step.subject);
  const isLow = measured !== null && measured < low - 1e-9;
  return made(isLow ? "fail" : "ok", isLow ? "under 0.85 of what this sun should give." : "", {
    expected,
    low,
  });
}

function drop(step, _name, ctx, tables) {
  const [combiner, controller, amps] = ["combiner_v", "controller_v", "pv_a"].map((key) =>
    at(ctx, "pv_on", key, step.subject),
  );
  if ([combiner, controller, amps].includes(null)) return null;
  const own = plan(ctx, tables).controllers[nameOf(step)];
  const circuit = tables.home_runs[nameOf(step)];
  const planned = circuit ? rowAsBuilt(ctx.job, ctx.state, circuit, "drop_v") : null;
  if (planned === null || !own?.imp_a || amps <= 0) return null;
  const computed = (planned * amps) / own.imp_a;
  const measured = combiner - controller;
  if (isWithin(measured, tables.drop_share * computed)) return made("ok");
  return made(
    "fail",
    `Too high: a bad crimp (heat camera, no touching) or a longer path than drawn. ` +
      `${show(measured, "V")} against ${tables.drop_share} × ${show(computed)}.`,
  );
}

function insulation(_step, name, ctx, tables) {
  const found = plan(ctx, tables).insulation;
  if (!found) return null;
  const measured = at(ctx, "array_insulation", name);
  const isWet = at(ctx, "array_insulation", "wet") === "wet";
  const judged = (mark, sentence = "") => made(mark, sentence, { low: found.limit });
  if (measured === null) return judged("missing", "Insulation of the PV leads: not enough data.");
  const isKept =
    measured > found.limit || Math.abs(measured - found.limit) <= 1e-9 * Math.max(measured, found.limit);
  if (!isKept) return judged("fail", isWet ? found.fails_wet : found.fails_dry);
  if (!found.memory || measured >= 1) return judged("ok");
  return judged(
    "caution",
    `Insulation of the PV leads: ${show(measured, "MΩ")}, needs at least ` +
      `${show(found.limit, "MΩ")}. ${found.memory}`,
  );
}

function cure(_step, name, ctx, tables) {
  const hours = at(ctx, "leak_test", name);
  const temp = at(ctx, "leak_test", "temp_air_c");
  const family = at(ctx, "sealant", "over_family") || "lap";
  const target = tables.rain_safe_h[family] ?? 12;
  if (hours === null || temp === null) return made("ok", "", { low: target });
  const clock = hours * cureRate(temp, at(ctx, "sealant", "rh_percent"), family, tables);
  if (clock >= target - 1e-9) return made("ok");
  return made("fail", `${g(clock)} of ${g(target)} hours on the cure clock: not rain-safe yet.`, {
    low: target,
  });
}

function cureRate(temp, humidityPercent, family, tables) {
  const isMoistureCure = tables.moisture_cure.includes(family);
  if (isMoistureCure && humidityPercent !== null && humidityPercent / 100 < tables.dry_air) return 0;
  return tables.cure_steps.reduce((rate, [from, next]) => (temp >= from ? next : rate), 0);
}

function moisture(_step, name, ctx, tables) {
  const before = at(ctx, "roof_checked", "moisture_percent");
  const after = at(ctx, "leak_test", name);
  if (before === null) return null;
  const limit = before + tables.moisture_rise;
  if (after === null || after < limit - 1e-9) return made("ok", "", { expected: before, high: limit });
  return made(
    "fail",
    `${g(after)}% now, ${g(before)}% on arrival: risen by 2 points or more, water is getting in.`,
    { expected: before, high: limit },
  );
}

// How neutral and ground read with the inverter alone, by what its manual says of them.
const NEUTRAL_ALONE = { relay: "bonded", always: "bonded", floating: "open" };

function neutral(step, name, ctx) {
  const wanted = NEUTRAL_ALONE[at(ctx, "neutral_kind", "kind")];
  const found = at(ctx, step.role, name);
  if (!wanted) {
    const where = codeOf(ctx.job, "neutral_kind");
    return made("missing", `enter first what the inverter's manual says (${where}).`);
  }
  if (found === null || found === wanted) return made("ok");
  return made("fail", "not as the manual says: inverter off, the licensed person decides.");
}

// Something that fails now and worked at check-in.
function worksAfter(step, name, ctx) {
  const before = several(at(ctx, "works_before", "not_working"));
  const now = several(at(ctx, step.role, name));
  const fresh = now.filter((each) => !before.includes(each));
  if (fresh.length) {
    const names = Object.fromEntries(step.fields.find((spec) => spec.name === name).choices);
    const words = fresh.map((each) => names[each] ?? each).join(", ");
    return made("fail", `${words}: worked at check-in and fails now.`);
  }
  return now.length ? made("caution", "as at check-in.") : made("ok");
}

const several = (value) => (value ?? "").split(",").filter((each) => each && each !== "none");

// These need no answer of the engine.
const PLAIN_JUDGES = { neutral, works_after: worksAfter };
const JUDGES = { voc: string, isc: string, controller_a: controllerAmps, drop, insulation, cure, moisture };
