// Shows and reads lengths as the shop measures them; inside the workspace every length is in millimeters.

const INCH = 25.4;

export function show(mm, units) {
  if (units === "metric") return `${(mm / 1000).toFixed(3).replace(/0$/, "")} m`;
  const sixteenths = Math.round((Math.abs(mm) / INCH) * 16);
  const feet = Math.floor(sixteenths / 192);
  const inches = Math.floor((sixteenths % 192) / 16);
  const part = fraction(sixteenths % 16);
  const tail = [inches || !part ? String(inches) : "", part].filter(Boolean).join(" ");
  return `${mm < 0 && sixteenths ? "-" : ""}${feet ? `${feet}' ` : ""}${tail}"`;
}

function fraction(count) {
  if (!count) return "";
  let [top, bottom] = [count, 16];
  while (top % 2 === 0) [top, bottom] = [top / 2, bottom / 2];
  return `${top}/${bottom}`;
}

const SIZES = { "'": 12 * INCH, ft: 12 * INCH, '"': INCH, in: INCH, mm: 1, cm: 10, m: 1000 };

// Returns millimeters, or null when the text is no length. A bare number is in inches, or in meters.
export function read(text, units) {
  const cleaned = text.trim().replaceAll("′", "'").replaceAll("″", '"').replaceAll(",", ".");
  const term = /^\s*(\d+(?:\.\d+)?|\.\d+)?(?:[\s-]*(\d+)\/(\d+))?\s*('|"|ft|in|mm|cm|m)?/i;
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
