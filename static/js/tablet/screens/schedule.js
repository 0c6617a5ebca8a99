// The circuit schedule as a technician reads it: path, size, fuse, drop; values recorded here stand beside the plan.
import { h, verdict } from "../dom.js";
import { percent, shown } from "../units.js";
import { jobHead } from "./parts.js";

export function schedule(view) {
  return h(
    "div",
    {},
    jobHead(view, "Circuit schedule"),
    h("section", { class: "sheet" }, circuitTable(view)),
    view.job.findings.length
      ? h(
          "section",
          { class: "sheet" },
          h("h2", {}, "What the sums say beside pass"),
          h(
            "ul",
            { class: "findings" },
            view.job.findings.map((one) => h("li", {}, verdict(one.verdict), " ", one.sentence)),
          ),
        )
      : "",
  );
}

export function circuitTable(view) {
  const length = (value) => (value === null ? "–" : shown(view.job, value, "m"));
  const amps = (value) => (value === null || value === undefined ? "–" : shown(view.job, value, "A"));
  const recorded = recordedRuns(view);
  const row = (each) => {
    const own = recorded.get(each.id) ?? {};
    const judged =
      own.run_len_m !== undefined || own.size !== undefined || own.fuse_a !== undefined
        ? "recorded"
        : each.changed.length
          ? `changed: ${each.changed.join(", ")}`
          : "as planned";
    return h(
      "tr",
      {},
      h("th", { scope: "row", class: "id" }, each.id),
      h("td", {}, each.from_to),
      h(
        "td",
        { class: "end" },
        both(length(each.run_len_m), own.run_len_m === undefined ? "" : length(own.run_len_m)),
      ),
      h("td", {}, both(each.size || "–", own.size ?? "")),
      h(
        "td",
        { class: "fuse-cell" },
        both(
          each.fuse_a === null ? "–" : amps(each.fuse_a),
          own.fuse_a === undefined ? "" : amps(own.fuse_a),
        ),
        each.fuse_place && each.fuse_a !== null ? h("br") : "",
        each.fuse_a !== null ? each.fuse_place : "",
      ),
      h("td", { class: "end" }, amps(each.design_a)),
      h("td", { class: "end" }, both(percent(each.drop_fraction), dropNow(view, each.id))),
      h("td", {}, judged),
      h("td", {}, verdict(verdictNow(view, each))),
    );
  };
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "region", "aria-label": "Circuit schedule" },
    h(
      "table",
      { class: "ledger" },
      h(
        "caption",
        {},
        "Lengths are one way along the wire. Where a value was recorded, it stands after the arrow.",
      ),
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          [
            "Circuit",
            "From – to",
            "Path",
            "Size",
            "Fuse",
            "Must carry",
            "Drop",
            "Against the plan",
            "Verdict",
          ].map((word) => h("th", { scope: "col" }, word)),
        ),
      ),
      h("tbody", {}, view.job.schedule.map(row)),
    ),
  );
}

// Drop and verdict of the values recorded here, by the job's own tables; where they say nothing, as the shop knew them.
const dropNow = (view, id) => {
  const drop = view.rules.row(id, "drop_fraction");
  return drop === null ? "" : percent(drop);
};

const verdictNow = (view, { id, verdict: known }) =>
  view.rules.deviations.find((one) => one.subject === `circuit:${id}`)?.verdict ?? known;

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
