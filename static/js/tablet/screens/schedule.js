// The circuit schedule as a technician reads it: path, size, fuse, drop; values recorded here stand beside
// the plan.
import { h, verdict } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { percent, shown } from "../units.js";
import { jobHead } from "./parts.js";

export function schedule(view) {
  return h(
    "div",
    {},
    jobHead(view, gettext("Circuit schedule")),
    h("section", { class: "sheet" }, circuitTable(view)),
    view.job.findings.length
      ? h(
          "section",
          { class: "sheet" },
          h("h2", {}, gettext("Checks that are not a plain pass")),
          h(
            "ul",
            { class: "findings" },
            view.job.findings.map((one) => h("li", {}, verdict(one.verdict), " ", one.sentence)),
          ),
        )
      : "",
  );
}

const HEADS = [
  gettext("Circuit"),
  gettext("From – to"),
  gettext("Length"),
  gettext("Size"),
  gettext("Fuse"),
  gettext("Must carry"),
  gettext("Drop"),
  gettext("Compared with the plan"),
  gettext("Verdict"),
];

export function circuitTable(view) {
  const recorded = recordedRuns(view);
  const words = gettext(
    "Lengths are one way along the wire. Where a value was recorded, it stands after the arrow.",
  );
  const heads = HEADS.map((word) => h("th", { scope: "col", role: "columnheader" }, word));
  const rows = view.job.schedule.map((each) => row(view, each, recorded.get(each.id) ?? {}));
  return h(
    "div",
    { class: "scroll circuits", tabindex: "0", role: "region", "aria-label": gettext("Circuit schedule") },
    h(
      "table",
      { class: "ledger", role: "table" },
      h("caption", {}, words),
      h("thead", { role: "rowgroup" }, h("tr", { role: "row" }, heads)),
      h("tbody", { role: "rowgroup" }, rows),
    ),
  );
}

// One circuit; ``own`` holds what was recorded for it here.
function row(view, each, own) {
  const known = (value, unit) => (value === null || value === undefined ? "–" : shown(view.job, value, unit));
  const now = (value, unit) => (value === undefined ? "" : known(value, unit));
  const fuse = [both(known(each.fuse_a, "A"), now(own.fuse_a, "A"))];
  if (each.fuse_a !== null) fuse.push(each.fuse_place ? h("br") : "", each.fuse_place);
  // In the order of HEADS: a narrow screen shows each circuit as a slip with these words (tablet.css).
  const cells = [
    ["way", each.from_to],
    ["end", both(known(each.run_len_m, "m"), now(own.run_len_m, "m"))],
    ["", both(each.size || "–", own.size ?? "")],
    ["", fuse],
    ["end", known(each.design_a, "A")],
    ["end", both(percent(each.drop_fraction), dropNow(view, each.id))],
    ["wide", againstPlan(each, own)],
    ["", verdict(verdictNow(view, each))],
  ];
  return h(
    "tr",
    { role: "row" },
    h("th", { scope: "row", class: "id", role: "rowheader" }, each.id),
    cells.map(([name, inner], place) =>
      h("td", { class: name, role: "cell", "data-label": HEADS[place + 1] }, inner),
    ),
  );
}

// What was recorded here is set against the plan; what was recorded elsewhere came with the job.
function againstPlan(each, own) {
  const told = Object.keys(COMPARED).filter((name) => own[name] !== undefined);
  if (!told.length)
    return each.changed.length
      ? interpolate(gettext("As built; {join}"), { join: each.changed.join(", ") })
      : gettext("Planned");
  const planned = each.planned ?? each;
  const differs = told.filter((name) => !isAlike(name, planned[name], own[name]));
  const words = differs.map((name) =>
    planned[name] ? COMPARED[name] : interpolate(gettext("{name} added"), { name: COMPARED[name] }),
  );
  return words.length
    ? interpolate(gettext("As built; {join}"), { join: words.join(", ") })
    : gettext("As built, as planned");
}

const COMPARED = { run_len_m: "length", size: "size", fuse_a: "fuse" };
const SAME_LENGTH_M = 0.016; // half of a tenth of a foot, as the server has it

const isAlike = (name, planned, now) =>
  name === "run_len_m" && planned !== null
    ? Math.abs(planned - now) <= SAME_LENGTH_M
    : String(planned ?? "") === String(now);

// Drop and verdict of the values recorded here, by the job's own tables; where they say nothing, as the shop
// knew them.
const dropNow = (view, id) => {
  const drop = view.verdicts.row(id, "drop_fraction");
  return drop === null ? "" : percent(drop);
};

const verdictNow = (view, { id, verdict: known }) =>
  view.verdicts.deviations.find((one) => one.subject === `circuit:${id}`)?.verdict ?? known;

const both = (planned, now) => (now && now !== planned ? [planned, " → ", h("strong", {}, now)] : planned);

// Values recorded for a circuit, by the names the sums know: circuit:C2.run_len_m
function recordedRuns(view) {
  const found = new Map();
  for (const step of view.inScope) {
    for (const spec of step.fields) {
      const [, id, name] = /^circuit:([^.]+)\.(\w+)$/.exec(spec.feeds ?? "") ?? [];
      const value = view.state(step).fields[spec.name]?.value ?? null;
      if (!id || value === null) continue;
      const words = spec.choices?.find?.(([key]) => key === value)?.[1] ?? value;
      found.set(id, { ...found.get(id), [name]: words });
    }
  }
  return found;
}
