// Shows and reads lengths as the shop measures them; inside the workspace every length is in millimeters.

const INCH = 25.4;

// Steps of the grid, of an arrow key with Shift, the gap a panel keeps to its neighbor, how high a new one
// lies: round in the shop's own units, and exact in the tenths of a millimeter that are stored.
const STEPS = {
  metric: { grid: 10, far: 100, gap: 20, height: 50 },
  imperial: { grid: INCH / 2, far: 4 * INCH, gap: INCH, height: 2 * INCH },
};

export const stepsOf = (units) => STEPS[units === "metric" ? "metric" : "imperial"];

// Returns the point of the grid nearest to a place, to the tenth of a millimeter that is stored.
export const onGrid = (mm, units, round = Math.round) => {
  const { grid } = stepsOf(units);
  return Math.round(round(Number((mm / grid).toFixed(6))) * grid * 10) / 10;
};

// Shows to the eighth of an inch a tape is read to.
export function show(mm, units) {
  if (units === "metric") return `${(mm / 1000).toFixed(3).replace(/0$/, "")} m`;
  const eighths = Math.round((Math.abs(mm) / INCH) * 8);
  const feet = Math.floor(eighths / 96);
  const inches = Math.floor((eighths % 96) / 8);
  const part = fraction(eighths % 8);
  const tail = [inches || feet || !part ? String(inches) : "", part].filter(Boolean).join(" ");
  const sign = mm < 0 && eighths ? "-" : "";
  if (!feet) return `${sign}${tail}"`;
  return tail === "0" ? `${sign}${feet}'` : `${sign}${feet}' ${tail}"`;
}

function fraction(count) {
  if (!count) return "";
  let [top, bottom] = [count, 8];
  while (top % 2 === 0) [top, bottom] = [top / 2, bottom / 2];
  return `${top}/${bottom}`;
}

const SIZES = { "'": 12 * INCH, ft: 12 * INCH, '"': INCH, in: INCH, mm: 1, cm: 10, m: 1000 };

// Returns millimeters, or null when the text is no length. A bare number is in inches, or in meters.
export function read(text, units) {
  const cleaned = text.trim().replaceAll("′", "'").replaceAll("″", '"').replaceAll(",", ".");
  const term = /^\s*((?:\d+(?:\.\d+)?|\.\d+)(?![\d.]*\/))?(?:[\s-]*(\d+)\/(\d+))?\s*('|"|ft|in|mm|cm|m)?/i;
  const sign = cleaned.startsWith("-") ? -1 : 1;
  let rest = cleaned.replace(/^[+-]/, "");
  let [total, count, before] = [0, 0, ""];
  while (rest.trim()) {
    const found = term.exec(rest);
    if (!found || (found[1] === undefined && found[2] === undefined)) return null;
    const amount = Number(found[1] ?? 0) + (found[2] ? Number(found[2]) / Number(found[3]) : 0);
    const bare = before === "'" || before === "ft" ? "in" : units === "metric" ? "m" : "in";
    const unit = (found[4] ?? bare).toLowerCase();
    total += amount * SIZES[unit];
    before = unit;
    rest = rest.slice(found[0].length);
    count += 1;
  }
  return count && Number.isFinite(total) ? (sign * Math.round(total * 10)) / 10 : null;
}
