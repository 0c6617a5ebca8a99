// What the reported values say on each switch of the tables: a text, and its place among the switch's
// options.

export class Settings {
  // ``meets`` tells whether another check's value reaches its limit.
  constructor(sums, values, meets) {
    Object.assign(this, { axes: sums.axes, values, meets, known: new Map() });
  }

  // Returns what the reported values say on a switch, as one text.
  text(axis) {
    return this.axes[axis].parts.map((part) => this.part(part)).join("|");
  }

  // Returns the place of that text among the switch's options; null when it is none of them.
  option(axis) {
    if (!this.known.has(axis)) {
      const at = this.axes[axis].options.indexOf(this.text(axis));
      this.known.set(axis, at < 0 ? null : at);
    }
    return this.known.get(axis);
  }

  // Returns what is said of a setting that is none of a switch's options.
  otherwise(axis) {
    const { parts, otherwise } = this.axes[axis];
    return otherwise.replace(/\{(\d)\}/g, (_, place) => this.values[parts[place].name]);
  }

  // Returns which string plan the reported values mean.
  plan() {
    const axis = this.axes.findIndex((each) => each.parts[0].name === "strings.ns");
    return axis < 0 ? 0 : (this.option(axis) ?? 0);
  }

  part(part) {
    const reported = this.values[part.name] ?? null;
    if (part.as === "value") return reported === null ? part.plan : textOf(reported);
    if (part.as === "band") return bandText(part, reported);
    if (part.as === "leads") return this.leadsText(part.planned);
    if (part.as === "meets") return opensText(this.meets(part.key));
    return this.footText(part, reported);
  }

  // Whether a lead in a short circuit's way came out shorter than planned, or of another size.
  leadsText(planned) {
    const isLess = Object.entries(planned).some(([name, plan]) => {
      const reported = this.values[name] ?? null;
      if (reported === null) return false;
      return typeof plan === "string" ? String(reported) !== plan : Number(reported) < plan;
    });
    return isLess ? "less" : "planned";
  }

  // How many of the feet stand on a rafter: all, none, or some of them.
  footText(part, reported) {
    const feet = this.values[part.feet] ?? part.feet_plan;
    const onRafter = reported === null ? part.plan : reported;
    if (onRafter === null) return "null";
    if (onRafter >= feet) return ">=";
    return onRafter === 0 ? "0" : "<";
  }
}

function opensText(isMet) {
  if (isMet === null) return "?";
  return isMet ? "opens" : "fails";
}

function bandText(part, reported) {
  const count = reported === null ? part.plan : reported;
  const below = part.starts.filter((start) => start <= count);
  return below.length ? String(Math.max(...below)) : "?";
}

// Returns one text for one value, as the tables write it: 7 and 7.0 are the same, yes and no are words.
export function textOf(value) {
  return typeof value === "string" ? value : JSON.stringify(value);
}
