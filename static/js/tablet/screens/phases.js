// One job on the roof tablet: what to do next, the phases with their locks, and the ways to its other views.
import { h, icon, verdict } from "../dom.js";
import { jobHead, notice, stepState } from "./parts.js";

export function phases(view) {
  const next = view.nextOpen();
  const done = view.inScope.filter((step) => view.mark(step).isDone).length;
  const current = next?.phase;
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
        h(
          "h2",
          {},
          next
            ? `${next.code} ${next.title}`
            : done === view.inScope.length
              ? "Every step is done"
              : "What is left is locked",
        ),
        h("p", {}, `${done} of ${view.inScope.length} steps done.`),
      ),
      next
        ? h(
            "a",
            { class: "btn btn-primary btn-tall", href: `#/job/${view.pk}/step/${next.pk}` },
            "Go on ",
            icon("arrow-right"),
          )
        : "",
    ),
    alerts(view),
    h(
      "nav",
      { class: "job-ways", "aria-label": "Views of this job" },
      way(view, "plan", "rulers", "Roof plan"),
      way(view, "seals", "check2-circle", "Seal count"),
      way(view, "circuits", "lightning-charge", "Circuits"),
      way(view, "contacts", "telephone", "People"),
      way(view, "hand-over", "pen", "Hand over"),
    ),
    view.job.phases
      .filter((phase) => view.ofPhase(phase.letter).length)
      .map((phase) => onePhase(view, phase, phase.letter === current)),
  );
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
        h("strong", {}, `Change order ${one.number}`),
        ` waits for the customer's signature. Locked until then: ${one.locked_phases.join(", ")}.`,
      ),
    ),
    problem
      ? notice("error", "x-octagon", h("strong", {}, "These values cannot be worked out together. "), problem)
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

function onePhase(view, phase, isCurrent) {
  const steps = view.ofPhase(phase.letter);
  const locks = view.phaseLocks(phase.letter);
  const done = steps.filter((step) => view.mark(step).isDone).length;
  const isDone = done === steps.length;
  const state = locks.length ? [icon("lock"), " locked"] : isDone ? [icon("check-lg"), " done"] : ["open"];
  return h(
    "details",
    {
      class: `phase${locks.length ? " phase-locked" : isDone ? " phase-done" : ""}`,
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
        h("span", { class: "visually-hidden" }, `Phase ${phase.letter}: `),
        phase.title,
      ),
      h("span", { class: "phase-count" }, `${done} of ${steps.length}`),
      h("span", { class: "phase-state" }, state),
    ),
    locks.length ? h("p", { class: "lock-why" }, icon("lock"), ` Locked: ${locks.join("; ")}.`) : "",
    h(
      "ul",
      { class: "steps" },
      steps.map((step) => row(view, step)),
    ),
  );
}

function row(view, step) {
  const { style, element } = stepState(view, step);
  return h(
    "li",
    {},
    h(
      "a",
      {
        class: `step-row step-${style}`,
        href: `#/job/${view.pk}/step/${step.pk}`,
        "data-key": `step-${step.pk}`,
      },
      h("span", { class: "step-code id" }, step.code),
      h(
        "span",
        { class: "step-title" },
        step.title,
        step.is_hold ? h("strong", {}, " (hold)") : "",
        view.isReopened(step) ? ` · opened again for design ${view.job.design_number}` : "",
      ),
      element,
    ),
  );
}
