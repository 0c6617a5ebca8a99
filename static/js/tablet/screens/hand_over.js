// The hand-over at the vehicle: what was done in the customer's words, every record, then the places to sign.

import { dayClock, h, icon } from "../dom.js";
import { photosWords } from "../job_words.js";
import { gettext, interpolate } from "../language.js";
import { contentOf, hashOf, recordedRows } from "../rules/hand_over.js";
import { jobHead, lines } from "./parts.js";
import { signForm } from "./sign_form.js";

const PARTS = {
  technician: gettext("Technician: work done"),
  owner: gettext("Owner: overrides and quality"),
  licensed: gettext("Licensed person: AC work"),
  customer: gettext("Customer: received and shown"),
};

export async function handOver(view) {
  const open = view.verdicts.openItems;
  const { cautions } = view.verdicts;
  const content = contentOf({ job: view.written, states: view.states }, open, cautions);
  const hash = await hashOf(content);
  return h(
    "div",
    { class: "hand-over" },
    jobHead(view, gettext("Hand over")),
    open.length
      ? h(
          "section",
          { class: "sheet hold hold-shut" },
          h("h2", {}, icon("lock"), gettext(" Still open")),
          h("p", {}, gettext("Nobody can sign while something is open.")),
          lines(view.told.lines(open)),
        )
      : "",
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, gettext("What is signed")),
      summary(view),
      everything(view),
      h(
        "p",
        {},
        gettext("Check code "),
        h("span", { class: "content-hash" }, hash),
        gettext(
          ". A signature holds for exactly this; when anything is recorded later it is signed again. " +
            "The printed job sheet comes from the shop.",
        ),
      ),
    ),
    h("section", { class: "card-says" }, h("h2", {}, gettext("Care")), lines(view.job.texts.care)),
    h("section", { class: "safety" }, h("h2", {}, gettext("Cautions")), lines(view.job.texts.cautions)),
    standing(view.told.lines(cautions)),
    view.verdicts.requiredParts.map((part) => place(view, part, { content, hash, isOpen: open.length > 0 })),
  );
}

// Right above the places to sign: what is not as it should be, and stays so when the vehicle goes.
function standing(cautions) {
  if (!cautions.length) return "";
  return h(
    "section",
    { class: "sheet notice notice-warning", id: "standing-cautions" },
    h("h2", {}, icon("exclamation-triangle"), gettext(" Handed over with these cautions")),
    h("p", {}, gettext("Go through them with the customer before anyone signs.")),
    lines(cautions),
  );
}

function summary(view) {
  const { job } = view.job;
  const facts = [
    [gettext("Customer"), job.customer],
    [gettext("Vehicle"), `${job.vehicle}${job.plate ? `, ${job.plate}` : ""}`],
    [gettext("Job"), `${job.number} ${job.title}`],
    [gettext("Panels"), panels(view)],
    [gettext("Records"), recordedRows(view.job, view.states).length],
  ];
  return h(
    "dl",
    { class: "facts" },
    facts.map(([name, value]) => [h("dt", {}, name), h("dd", {}, value)]),
  );
}

// How many panels; planned until each is through the steps that ask for it.
function panels(view) {
  const steps = view.inScope.filter((step) => step.subject.startsWith("panel:"));
  const count = new Set(steps.map((step) => step.subject)).size;
  if (!count) return "–";
  return steps.every((step) => view.mark(step).isDone)
    ? `${count}`
    : interpolate(gettext("{count} planned"), { count });
}

// Every record that is signed for, phase by phase, in the very order the hash is made in.
function everything(view) {
  return view.job.phases
    .filter((phase) => view.ofPhase(phase.letter).length)
    .map((phase) => {
      const steps = view.ofPhase(phase.letter).filter((step) => view.states.has(step.pk));
      if (!steps.length) return "";
      return h(
        "details",
        { class: "change" },
        h("summary", {}, `${phase.letter} ${phase.title}`),
        h(
          "dl",
          { class: "facts told" },
          steps.flatMap((step) => told(view, step)),
        ),
      );
    });
}

function told(view, step) {
  const specs = new Map(view.fields(step).map((spec) => [spec.name, spec]));
  const state = view.state(step);
  const rows = Object.keys(state.fields)
    .sort()
    .flatMap((name) => {
      const { standing } = state.fields[name];
      if (!standing.length) return [];
      const spec = specs.get(name);
      const words = standing.every((event) => event.photo)
        ? photosWords(standing.length)
        : standing.map((event) => view.say(spec, event)).join(" and ");
      return [[spec?.label ?? name, words]];
    });
  return [...rows, ...state.notes.map((event) => [gettext("Note"), event.value])].map(([label, words]) => [
    h("dt", {}, `${step.code} ${label}`),
    h("dd", {}, words),
  ]);
}

function place(view, part, { content, hash, isOpen }) {
  const all = (view.row.signatures ?? []).filter((one) => one.part === part);
  const signed = all.find((one) => one.content_sha256 === hash);
  const older = all.filter((one) => one !== signed);
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, PARTS[part]),
    older.map((one) =>
      h(
        "p",
        {},
        icon("info-circle"),
        interpolate(gettext(" {printed_name} signed an earlier version, {when}."), {
          printed_name: one.printed_name,
          when: dayClock(one.at),
        }),
      ),
    ),
    signed
      ? fate(signed)
      : part === "owner"
        ? h("p", {}, gettext("The owner signs in the shop, from the owner's own sign-in."))
        : isOpen
          ? h("p", {}, gettext("Nobody can sign while something is open."))
          : signForm(view, part, content, hash),
  );
}

function fate({ printed_name: name, at, answer }) {
  const words = !answer
    ? gettext("saved here, not sent yet")
    : answer.counts
      ? gettext("sent, counts for the job sheet")
      : answer.stored
        ? interpolate(gettext("sent, but it does not count: {sentence}"), { sentence: answer.sentence })
        : interpolate(gettext("not taken: {error}"), { error: answer.error });
  return h(
    "p",
    {},
    icon(answer && !answer.counts ? "exclamation-triangle" : "check-lg"),
    gettext(" Signed by "),
    h("strong", {}, name),
    `, ${dayClock(at)}: ${words}.`,
  );
}
