// One job on the roof tablet: what to do next, the phases with their locks, and the ways to its other views.
import { h, icon, verdict } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { clockLine } from "./hours.js";
import { isDone, isTable, nextOpenPage, pagesOf, titleOf } from "./pages.js";
import { jobHead, notice, stepState } from "./parts.js";
import { shortLine } from "./short_line.js";
import { draftedCodes } from "./table/draft.js";
import { phaseSafety, together } from "./together.js";

export async function phases(view) {
  const drafted = await draftedCodes(view);
  const pages = pagesOf(view);
  const next = nextOpenPage(view);
  const done = pages.filter((page) => isDone(view, page)).length;
  return h(
    "div",
    {},
    jobHead(view, view.job.job.title),
    h(
      "section",
      { class: "now" },
      h(
        "div",
        {},
        h("h2", {}, nextWords(next, done === pages.length)),
        h("p", {}, interpolate(gettext("{done} of {pages} steps done."), { done, pages: pages.length })),
      ),
      next
        ? h(
            "a",
            { class: "btn btn-primary btn-tall", href: `#/job/${view.pk}/step/${next.steps[0].pk}` },
            gettext("Go on "),
            icon("arrow-right"),
          )
        : "",
    ),
    clockLine(view),
    shortLine(view),
    alerts(view),
    h(
      "nav",
      { class: "job-ways", "aria-label": gettext("Views of this job") },
      way(view, "plan", "rulers", gettext("Roof plan")),
      way(view, "one-line", "diagram-3", gettext("One-line")),
      way(view, "seals", "check2-circle", gettext("Seal count")),
      way(view, "circuits", "lightning-charge", gettext("Circuits")),
      way(view, "contacts", "telephone", gettext("Call")),
      way(view, "hours", "clock-history", gettext("Hours")),
      way(view, "load", "box-seam", gettext("Parts to load")),
      way(view, "hand-over", "pen", gettext("Hand over")),
    ),
    view.job.phases
      .filter((phase) => view.ofPhase(phase.letter).length)
      .map((phase) => onePhase(view, phase, phase.letter === next?.phase, drafted)),
  );
}

function nextWords(next, isAll) {
  if (next) return `${next.code} ${isTable(next) ? titleOf(next) : next.steps[0].title}`;
  return isAll ? gettext("Every step is done") : gettext("What is left is locked");
}

const way = (view, name, shape, words) =>
  h("a", { class: "btn btn-secondary", href: `#/job/${view.pk}/${name}` }, icon(shape), ` ${words}`);

function alerts(view) {
  const { waiting_changes: waiting, suggestions } = view.job;
  const { problem } = view.verdicts;
  return [
    waiting.map((one) =>
      notice(
        "warning",
        "lock",
        h("strong", {}, interpolate(gettext("Change order {number}"), { number: one.number })),
        interpolate(gettext(" waits for the customer's signature. Locked until then: {join}."), {
          join: one.locked_phases.join(", "),
        }),
      ),
    ),
    problem
      ? notice("error", "x-octagon", h("strong", {}, gettext("These values do not fit together. ")), problem)
      : "",
    suggestions.map((words) => notice("warning", "exclamation-triangle", words)),
    view
      .deviations()
      .map((one) =>
        h(
          "div",
          { class: `notice notice-${one.verdict === "block" ? "error" : "warning"}` },
          h("p", {}, verdict(one.verdict), " ", one.sentence),
        ),
      ),
  ];
}

function onePhase(view, phase, isCurrent, drafted) {
  const pages = pagesOf(view).filter((page) => page.phase === phase.letter);
  const isShut = (page) => page.steps.every((step) => view.locks(step).length);
  const done = pages.filter((page) => isDone(view, page)).length;
  const open = pages.filter((page) => !isDone(view, page));
  const shut = open.length > 0 && open.every(isShut);
  const state = shut
    ? [icon("lock"), gettext(" locked")]
    : open.length
      ? [gettext("open")]
      : [icon("check-lg"), gettext(" done")];
  return h(
    "details",
    {
      class: `phase${shut ? " phase-locked" : open.length ? "" : " phase-done"}`,
      open: isCurrent,
      id: `phase-${phase.letter}`,
    },
    h(
      "summary",
      { "data-key": `phase-${phase.letter}` },
      h("span", { class: "phase-letter", "aria-hidden": "true" }, phase.letter),
      h(
        "span",
        { class: "phase-name" },
        h(
          "span",
          { class: "visually-hidden" },
          interpolate(gettext("Phase {letter}: "), { letter: phase.letter }),
        ),
        phase.title,
      ),
      h(
        "span",
        { class: "phase-count" },
        interpolate(gettext("{done} of {pages}"), { done, pages: pages.length }),
      ),
      h("span", { class: "phase-state" }, state),
    ),
    lockWords(view, open.filter(isShut), shut),
    isCurrent ? phaseSafety(view, open) : "",
    h(
      "ul",
      { class: "steps" },
      pages.map((page) => h("li", {}, pageRow(view, page, drafted), together(view, page))),
    ),
  );
}

// Why steps of a phase are locked, each reason once with the steps it locks; without them where it is all.
function lockWords(view, pages, isAll) {
  const codes = new Map();
  for (const page of pages) {
    const why = view.locks(page.steps[0]).join("; ");
    codes.set(why, [...(codes.get(why) ?? []), page.code]);
  }
  return [...codes].map(([why, list]) =>
    h(
      "p",
      { class: "lock-why" },
      icon("lock"),
      isAll && codes.size === 1
        ? gettext(" Locked")
        : interpolate(gettext(" {join} locked"), { join: list.join(", ") }),
      `: ${why}.`,
    ),
  );
}

function pageRow(view, page, drafted) {
  const [step] = page.steps;
  const { style, element } = pageState(view, page);
  const hold = page.steps.some((each) => each.is_hold);
  return h(
    "a",
    {
      class: `step-row step-${style}`,
      href: `#/job/${view.pk}/step/${step.pk}`,
      "data-key": `step-${step.pk}`,
    },
    h("span", { class: "step-code id" }, page.code),
    h(
      "span",
      { class: "step-title" },
      isTable(page) ? titleOf(page) : step.title,
      hold ? h("strong", {}, gettext(" (hold)")) : "",
      step.licensed ? licensedBadge() : "",
      page.steps.some((each) => view.isReopened(each))
        ? interpolate(gettext(" · opened again for design {design_number}"), {
            design_number: view.job.design_number,
          })
        : "",
      drafted.has(page.code) ? h("strong", {}, gettext(" · typed, not saved")) : "",
    ),
    element,
  );
}

const licensedBadge = () =>
  h("span", { class: "step-licensed" }, icon("person-badge"), ` ${gettext("for the licensed person")}`);

// The state of a step; of a table the worst of its rows, and how many are done.
function pageState(view, page) {
  if (!isTable(page)) return stepState(view, page.steps[0]);
  const open = page.steps.filter((step) => !view.mark(step).isDone);
  const found = stepState(view, worstOf(view, open.length ? open : page.steps));
  const done = page.steps.length - open.length;
  if (open.length)
    found.element.append(interpolate(gettext(", {done} of {steps}"), { done, steps: page.steps.length }));
  return found;
}

const RANK = ["conflict", "failed", "shut", "caution", "begun", "open", "let", "passed", "done"];
const worstOf = (view, steps) => [...steps].sort((one, other) => rank(view, one) - rank(view, other))[0];
const rank = (view, step) => RANK.indexOf(stepState(view, step).style);
