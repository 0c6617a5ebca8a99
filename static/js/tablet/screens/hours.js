// Hours by person and phase: start, stop, and put right by hand with a reason. One clock a person; the next
// start ends the one before, on another job of this tablet too.
import { clock, dayClock, h, icon } from "../dom.js";
import { keptJobs, openJob } from "../job.js";
import { gettext, interpolate } from "../language.js";
import { record } from "../record.js";
import { hoursOf, isAsked, spansOf } from "../rules/clocks.js";
import { link } from "../sending/link.js";
import { once } from "./field/saving.js";
import { byHand } from "./hours_by_hand.js";
import { doubts } from "./hours_doubts.js";
import { lengthWords, now, phaseWords } from "./hours_words.js";
import { jobHead, notice } from "./parts.js";

// The spans of a job by our clock, as far as it was measured.
const spans = (view) => spansOf(view.jobEvents, link.offset_ms ?? 0);

let chosen; // whose clock is started: kept while the view is drawn again

export function hours(view) {
  const people = peopleOf(view);
  const all = spans(view);
  if (!people.length)
    return h(
      "div",
      {},
      jobHead(view, gettext("Hours")),
      notice("warning", "person", gettext("Sign in once to run a clock.")),
    );
  const who = people.find((one) => one.id === chosen) ?? people[0];
  return h(
    "div",
    {},
    jobHead(view, gettext("Hours")),
    doubts(view, all),
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, gettext("Now")),
      running(view, all),
      people.length > 1 ? whose(people, who) : "",
      h(
        "div",
        { class: "clock-phases" },
        view.job.phases
          .filter((phase) => view.ofPhase(phase.letter).length)
          .map((phase) => startButton(view, phase, who)),
      ),
    ),
    list(view, all, who),
  );
}

// The one signed in comes first; a job taken along by an older app knows no others.
function peopleOf(view) {
  const own = view.person?.id ? [{ id: view.person.id, name: view.person.name }] : [];
  return [...own, ...(view.job.people ?? []).filter((one) => one.id !== view.person?.id)];
}

function whose(people, who) {
  const options = people.map((one) =>
    h("option", { value: String(one.id), selected: one.id === who.id }, one.name),
  );
  const choose = ({ currentTarget }) => {
    chosen = Number(currentTarget.value);
    dispatchEvent(new HashChangeEvent("hashchange"));
  };
  return h(
    "p",
    {},
    h("label", { for: "clock-who" }, gettext("Whose clock ")),
    h(
      "select",
      { id: "clock-who", class: "form-select", "data-key": "clock-who", onchange: choose },
      options,
    ),
  );
}

function running(view, all) {
  const found = all.filter((span) => span.end === null);
  if (!found.length) return h("p", {}, gettext("No clock runs on this job."));
  return found.map((span) =>
    h(
      "div",
      { class: "clock-now" },
      h(
        "p",
        {},
        icon("clock-history"),
        h("strong", {}, ` ${span.name}`),
        interpolate(gettext(", {phaseWords}, since {when} ({lengthWords})"), {
          phaseWords: phaseWords(view, span.phase),
          when: dayClock(span.start),
          lengthWords: lengthWords(span),
        }),
      ),
      h(
        "button",
        {
          class: "btn btn-primary btn-tall",
          type: "button",
          "data-key": `stop-${span.id}`,
          onclick: ({ currentTarget }) => stop(view, span, currentTarget),
        },
        interpolate(gettext("Stop {name}"), { name: span.name }),
      ),
    ),
  );
}

const startButton = (view, phase, who) =>
  h(
    "button",
    {
      class: "btn btn-secondary btn-tall",
      type: "button",
      "data-key": `start-${phase.letter}`,
      onclick: ({ currentTarget }) => start(view, phase, who, currentTarget),
    },
    h("span", { class: "id" }, phase.letter),
    interpolate(gettext(" Start {title}"), { title: phase.title }),
  );

const start = (view, phase, who, control) =>
  once(
    `clock-${who.id}`,
    control,
    async () => {
      const value = { who: who.id, name: who.name };
      await record(view, [{ step: null, verb: "start", field: phase.letter, value }]);
      await stopElsewhere(view, who);
    },
    interpolate(gettext("{name}: clock started"), { name: who.name }),
  );

const stop = (view, span, control) =>
  once(
    `clock-${span.who}`,
    control,
    () => record(view, [{ step: null, verb: "stop", value: { start: span.id } }]),
    interpolate(gettext("{name}: clock stopped"), { name: span.name }),
  );

// A person works at one place: what runs on another job of this tablet ends now.
async function stopElsewhere(view, who) {
  for (const row of await keptJobs()) {
    if (row.pk === view.pk) continue;
    const other = await openJob(row.pk);
    const open = spans(other).filter((span) => span.end === null && span.who === who.id);
    if (open.length)
      await record(
        other,
        open.map((span) => ({ step: null, verb: "stop", value: { start: span.id } })),
      );
  }
}

function list(view, all, who) {
  const total = all.reduce((sum, span) => sum + hoursOf(span, now()), 0);
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, gettext("On this job")),
    all.length
      ? h("p", {}, interpolate(gettext("{toFixed} h of everybody together."), { toFixed: total.toFixed(2) }))
      : h("p", {}, gettext("No clock has run yet.")),
    h(
      "ul",
      { class: "queue" },
      [...all].reverse().map((span) => h("li", {}, ...spanWords(view, span), byHand(view, span, ""))),
    ),
    h("h3", {}, interpolate(gettext("Hours of {name} that no clock ran for"), { name: who.name })),
    byHand(view, { who: who.id, name: who.name, phase: "", start: null, end: null }, ""),
  );
}

function spanWords(view, span) {
  const until = span.end === null ? gettext("now") : clock(span.end);
  const ran = span.ran?.[0]
    ? interpolate(gettext("The clock ran {from} to {until}."), {
        from: dayClock(span.ran[0]),
        until: span.ran[1] ? dayClock(span.ran[1]) : gettext("no stop"),
      })
    : gettext("No clock ran.");
  return [
    h("strong", {}, span.name),
    interpolate(gettext(", {phaseWords}: {when} to {until}, {lengthWords}"), {
      phaseWords: phaseWords(view, span.phase),
      when: dayClock(span.start),
      until,
      lengthWords: lengthWords(span),
    }),
    span.endedBy === "next" ? gettext(" (ended by the next start)") : "",
    span.endedBy === "hand"
      ? h(
          "p",
          {},
          interpolate(gettext("By hand, {who}: “{reason}”. {ran}"), {
            who: span.correctedBy || gettext("here"),
            reason: span.reason,
            ran,
          }),
        )
      : "",
  ];
}

// For the job's home: which clock of the person here runs, and one that was forgotten.
export function clockLine(view) {
  const open = spans(view).filter((span) => span.end === null || isAsked(span, now()));
  return open.map((span) => {
    const words = isAsked(span, now())
      ? gettext("clock forgotten? It began")
      : interpolate(gettext("clock in {phase} since"), { phase: span.phase });
    return h(
      "a",
      {
        class: `notice notice-${isAsked(span, now()) ? "warning" : "info"} notice-link`,
        href: `#/job/${view.pk}/hours`,
      },
      icon("clock-history"),
      ` ${span.name}: ${words} ${dayClock(span.start)}`,
    );
  });
}
