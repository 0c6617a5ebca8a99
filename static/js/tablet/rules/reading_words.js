// What is said of a string's reading that is off: how far, and what that usually means.
import { show } from "../words.js";

// Returns the mark and the sentence of what was measured.
export function readingWords(isVolts, measured, value, [low, high], expected, sun, otherStrings, tables) {
  if (measured === null) return ["missing", "Not read yet."];
  if (measured < 0) return ["fail", "Negative: the pair is reversed. Stop, do not close the PV switch."];
  if (sun.irradiance < tables.test_sun) {
    return [
      "missing",
      `Refused as a test: ${show(sun.irradiance)} W/m² is below ${tables.test_sun.toFixed(0)} W/m².`,
    ];
  }
  const share = value ? (measured - value) / value : 0;
  const differs = `${show(share * 100, "%", 1)} off the expected ${show(value, isVolts ? "V" : "A")}`;
  if (low <= measured && measured <= high) return ["ok", ""];
  const hint = isVolts ? voltageHint(measured, expected) : currentHint(measured, low, high, otherStrings);
  return ["fail", `${differs}: ${hint}`];
}

function voltageHint(measured, expected) {
  if (measured < 0.05 * expected.voc) return "zero: a connector is not seated, or a pair is reversed.";
  const missing = expected.voc - measured;
  const panels = missing / expected.panelVoc;
  if (panels < 0)
    return "too high: more panels in series than planned, another panel model, or cells colder than read.";
  const lacks = `about ${show(missing, "V", 1)} low`;
  const near = halfToEven(panels);
  if (Math.abs(panels - near) <= 0.12 && near >= 1) {
    return `${lacks} ≈ ${near} ${near === 1 ? "panel" : "panels"}: missing or by-passed.`;
  }
  for (const [share, words] of [
    [1 / 3, "one third"],
    [1 / 2, "one half"],
    [2 / 3, "two thirds"],
  ]) {
    if (Math.abs((panels % 1) - share) <= 0.08)
      return `${lacks} ≈ ${words} of one panel: a bypassed sub-string or wrong panel.`;
  }
  return `${lacks}: cells hotter than read, a weak panel or a poor joint.`;
}

function halfToEven(value) {
  const down = Math.floor(value);
  if (value - down !== 0.5) return Math.round(value);
  return down % 2 ? down + 1 : down;
}

function currentHint(measured, low, high, otherStrings) {
  if (measured > high)
    return "too high: brighter than the meter says, another panel model, or strings joined.";
  if (measured < 0.05 * low) return "zero: an open fuse, a connector not seated, or a broken lead.";
  const othersLow = otherStrings.map((reading) => reading < low);
  if (othersLow.length && othersLow.every(Boolean)) return "low on all strings: sun, dirt or the meter.";
  if (othersLow.length) return "low on this string: shade, dirt or a wrong panel.";
  return "low: shade, dirt, a wrong panel, or less sun than the meter says.";
}
