// One step to a view: what to do, what it asks, what stands there, and what to do when a value is wrong.
import { h, icon, verdict } from "../dom.js";
import { record } from "../record.js";
import { NOTE_LENGTH } from "../rules/entries.js";
import { field } from "./field/field.js";
import { jobHead, lines, notice, whoWhen } from "./parts.js";
import { circuitTable } from "./schedule.js";
import { sealTable } from "./seals.js";

export function step(view, pk) {
  const found = view.stepByPk.get(Number(pk));
  if (!found) return h("div", {}, jobHead(view, "This step is not in the job any more"));
  const place = view.inScope.indexOf(found);
  const locks = view.locks(found);
  const canRecord = found.is_in_scope && view.job.job.is_in_install;
  return h(
    "div",
    { class: "one-step" },
    h(
      "div",
      { class: "step-say-side" },
      jobHead(
        view,
        h("span", {}, h("span", { class: "step-head-code" }, found.code), ` ${found.title}`),
        h(
          "p",
          { class: "step-where" },
          `Step ${place + 1} of ${view.inScope.length}`,
          found.is_hold ? " · hold" : "",
        ),
        h("p", { class: "step-say" }, found.instruction),
      ),
      locks.length
        ? notice(
            "warning",
            "lock",
            h("strong", {}, "This step is locked: "),
            `${locks.join("; ")}. What you record is kept and marked.`,
          )
        : "",
      found.is_in_scope ? "" : notice("warning", "info-circle", "This step is not in scope of this job."),
      view.isReopened(found)
        ? notice(
            "warning",
            "arrow-counterclockwise",
            `Done on an earlier design; design ${view.job.design_number} opens it again.`,
          )
        : "",
      safety(view, found),
      cards(found),
    ),
    h(
      "div",
      { class: "step-do-side" },
      view.fields(found).map((spec) => field(view, found, spec, canRecord)),
      view
        .deviations(found)
        .map((one) =>
          h(
            "div",
            { class: `notice notice-${one.verdict === "block" ? "error" : "warning"}` },
            h("p", {}, verdict(one.verdict), " ", one.sentence),
          ),
        ),
      extras(view, found),
      hold(view, found),
      canRecord ? notes(view, found) : "",
      history(view, found),
    ),
    bar(view, found, place),
  );
}

function safety(view, found) {
  const phase = view.job.phases.find((one) => one.letter === found.phase);
  const isFirst = found.fields.some((spec) => spec.name === "safety");
  if (!phase?.safety.length || !isFirst) return "";
  return h("section", { class: "safety", "aria-label": "Safety" }, lines(phase.safety));
}

function cards(found) {
  const always = found.card.filter((row) => row.when === "always").map((row) => row.says);
  return always.length
    ? h("section", { class: "card-says", "aria-label": "Reading card" }, lines(always))
    : "";
}

function extras(view, found) {
  if (found.extra === "seals")
    return h("section", { class: "sheet" }, h("h2", {}, "Count of holes"), sealTable(view));
  if (found.extra === "schedule")
    return h("section", { class: "sheet" }, h("h2", {}, "Circuit schedule"), circuitTable(view));
  if (found.extra === "sign")
    return h(
      "a",
      { class: "btn btn-primary btn-tall", href: `#/job/${view.pk}/hand-over` },
      icon("pen"),
      " Hand over and sign",
    );
  return "";
}

function hold(view, found) {
  const mark = view.mark(found);
  if (!found.is_hold || !mark.holdState) return "";
  const isShut = mark.holdState === "shut";
  return h(
    "section",
    { class: `sheet hold hold-${isShut ? "shut" : "open"}` },
    h(
      "h2",
      {},
      icon(isShut ? "lock" : mark.holdState === "let" ? "flag" : "unlock"),
      isShut ? " Hold shut" : mark.holdState === "let" ? " Passed by the owner" : " Hold passed",
    ),
    isShut
      ? h(
          "ul",
          { class: "link-list" },
          mark.items.map((item) =>
            h(
              "li",
              {},
              h(
                "a",
                { href: `#/job/${view.pk}/step/${item.step}` },
                h("span", { class: "id" }, view.stepByPk.get(item.step)?.code ?? ""),
                ` ${item.sentence}${item.canBeOverridden ? "" : " (cannot be overridden)"}`,
              ),
            ),
          ),
        )
      : "",
    mark.overrides.map((one) =>
      h(
        "p",
        {},
        `${one.by_name} let it pass: “${one.reason}”${isShut ? " Something new has opened since." : ""}`,
      ),
    ),
  );
}

function notes(view, found) {
  const words = h("textarea", { id: "note", maxlength: String(NOTE_LENGTH), rows: "2", "data-key": "note" });
  const keep = async () => {
    if (!words.value.trim()) return words.focus();
    await record(view, [{ step: found.pk, verb: "note", value: words.value.trim() }]);
    dispatchEvent(new HashChangeEvent("hashchange"));
  };
  return h(
    "details",
    { class: "note" },
    h("summary", {}, icon("journal-text"), " Note"),
    h("label", { class: "input-label", for: "note" }, "Kept with this step; never deleted"),
    words,
    h(
      "div",
      { class: "step-end" },
      h("button", { class: "btn btn-primary", type: "button", onclick: keep }, "Keep the note"),
    ),
  );
}

function history(view, found) {
  const all = [...view.events.values()].filter((event) => event.step === found.pk);
  if (!all.length) return "";
  all.sort((one, other) => ((one.done_at ?? one.at) < (other.done_at ?? other.at) ? -1 : 1));
  const labels = new Map(view.fields(found).map((spec) => [spec.name, spec]));
  const words = (event) => {
    if (event.verb === "undo")
      return `Took back ${labels.get(view.events.get(event.undoes)?.field)?.label ?? "a value"}`;
    if (event.verb === "note") return `Note: ${event.value}`;
    const spec = labels.get(event.field);
    const why = event.cause ? ` (${event.cause})` : "";
    const isOfNow = event.design_number === view.job.design_number;
    const design = isOfNow ? "" : `, on design ${event.design_number}`;
    return `${spec?.label ?? event.field}: ${view.say(spec, event)}${why}${design}`;
  };
  return h(
    "details",
    { class: "history" },
    h("summary", {}, icon("clock-history"), " History"),
    h(
      "ul",
      {},
      all.map((event) => h("li", {}, words(event), whoWhen(event))),
    ),
  );
}

function bar(view, found, place) {
  const [back, on] = [view.inScope[place - 1], view.inScope[place + 1]];
  const go = (to, words, label) =>
    h(
      "a",
      {
        class: "btn btn-secondary",
        href: `#/job/${view.pk}/step/${to.pk}`,
        "aria-label": `${label} ${to.code} ${to.title}`,
      },
      words,
    );
  const next = view.mark(found).isDone ? view.nextOpen(found) : undefined;
  return h(
    "nav",
    { class: "foot-bar", "aria-label": "Steps" },
    back ? go(back, [icon("arrow-left"), ` ${back.code}`], "Back to") : h("span", { class: "foot-none" }),
    h("a", { class: "btn btn-secondary", href: `#/job/${view.pk}` }, icon("list-check"), " Steps"),
    next && next !== on
      ? h(
          "a",
          {
            class: "btn btn-primary",
            href: `#/job/${view.pk}/step/${next.pk}`,
            "aria-label": `Next open step ${next.code} ${next.title}`,
          },
          `${next.code} `,
          icon("arrow-right"),
        )
      : on
        ? h(
            "a",
            {
              class: `btn ${next ? "btn-primary" : "btn-secondary"}`,
              href: `#/job/${view.pk}/step/${on.pk}`,
              "aria-label": `On to ${on.code} ${on.title}`,
            },
            `${on.code} `,
            icon("arrow-right"),
          )
        : h("span", { class: "foot-none" }),
  );
}
