// One page of the work: a step alone, or the table of all steps of one code. What to do, the safety lines,
// what it asks, what stands there, and what to do when a value is wrong.
import { h, icon, verdict } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { drawingLinks } from "./drawings.js";
import { field } from "./field/field.js";
import { asLastTime } from "./field/last_time.js";
import { foot } from "./foot.js";
import { cameFrom } from "./go_on.js";
import { history } from "./history.js";
import { hold } from "./hold.js";
import { isAtWork, isShut, isStrict, mayRecord } from "./may.js";
import { isExtra, isLeft, leaveButton, leftOut } from "./not_here.js";
import { openList } from "./open_list.js";
import { isTable, pageOf, pagesOf, titleOf } from "./pages.js";
import { jobHead, lines, notice } from "./parts.js";
import { liveLines, safety } from "./safety.js";
import { circuitTable } from "./schedule.js";
import { sealTable } from "./seals.js";
import { draftOf } from "./table/draft.js";
import { asPlanned, grid, rowsOpen, saveBar, tableOf } from "./table/table.js";

// The page of a step: of all steps of its code, where there are several.
export async function step(view, pk) {
  const found = view.stepByPk.get(Number(pk));
  if (!found) return missing(view);
  const page = found.is_in_scope ? pageOf(view, found) : { code: found.code, steps: [found] };
  if (!isTable(page)) return one(view, found, page);
  return table(view, found, page, await draftOf(view, page));
}

// One row of a table with everything of it.
export function row(view, pk) {
  const found = view.stepByPk.get(Number(pk));
  return found
    ? one(view, found, pageOf(view, found) ?? { code: found.code, steps: [found] })
    : missing(view);
}

const missing = (view) => h("div", {}, jobHead(view, gettext("This step is not in the job any more")));

function one(view, found, page) {
  const canRecord = mayRecord(view, found);
  return h(
    "div",
    { class: "one-step" },
    h(
      "div",
      { class: "step-say-side" },
      head(view, found, page, found.title),
      isTable(page) ? toTable(view, page) : "",
      said(view, found, found.is_in_scope ? view.locks(found) : []),
    ),
    h(
      "div",
      { class: "step-do-side" },
      isShut(view, found) ? standingOf(view, found) : body(view, found, canRecord, [found]),
      extras(view, found),
      openList(view, found),
      hold(view, found),
      history(view, [found]),
    ),
    foot(view, page, found),
  );
}

function body(view, found, canRecord, leaving) {
  return [
    leftOut(view, found, canRecord),
    isLeft(view, found) || !canRecord ? "" : asLastTime(view, found),
    isLeft(view, found) ? "" : fieldsOf(view, found, canRecord),
    deviations(view, [found]),
    canRecord ? leaveButton(view, leaving) : "",
  ];
}

const fieldsOf = (view, found, canRecord) =>
  view
    .fields(found)
    .filter((spec) => !isExtra(spec))
    .map((spec) => field(view, found, spec, canRecord));

// What was recorded at a step that is locked now, on an earlier design too, to be read only.
const standingOf = (view, found) =>
  view
    .fields(found)
    .filter((spec) => view.whole.get(found.pk)?.fields[spec.name]?.standing.length)
    .map((spec) => field(view, found, spec, false));

function table(view, found, page, draft) {
  const isOpen = (each) => mayRecord(view, each);
  const made = tableOf(view, page, draft, isOpen);
  const place = page.steps.findIndex((each) => each.subject);
  const commons = page.steps.filter((each) => !each.subject);
  const above = commons.filter((each) => page.steps.indexOf(each) < place);
  const common = (each) => commonOf(view, each, isOpen(each));
  const steps = made.rows.map((each) => each.step);
  const able = page.steps.filter(isOpen);
  return h(
    "div",
    { class: "one-step one-table" },
    h(
      "div",
      { class: "step-say-side" },
      head(view, found, page, titleOf(page)),
      said(view, found, rowsOpen(made).length ? [] : view.locks(steps[0]), page.steps),
    ),
    h(
      "div",
      { class: "step-do-side" },
      above.map(common),
      able.length ? asPlanned(made) : "",
      grid(made),
      saveBar(made),
      steps.map((each) => leftOut(view, each, isOpen(each))),
      commons.filter((each) => !above.includes(each)).map(common),
      deviations(view, steps),
      able.length ? leaveButton(view, able) : "",
      extras(view, page.steps[0]),
      page.steps.map((each) => hold(view, each)),
      history(view, page.steps),
    ),
    foot(view, page, found),
  );
}

// The fields that all rows have in common, above or below the table.
function commonOf(view, each, canRecord) {
  if (!isShut(view, each)) return body(view, each, canRecord, []);
  return [locked(view.locks(each)), standingOf(view, each)];
}

function head(view, found, page, title) {
  const pages = pagesOf(view);
  const place = pages.indexOf(page);
  const words = [
    place < 0
      ? ""
      : interpolate(gettext("Step {place} of {pages}"), { place: place + 1, pages: pages.length }),
    page.steps.some((each) => each.is_hold) ? gettext("hold") : "",
    found.licensed ? gettext("for the licensed person") : "",
    found.needs_lead ? gettext("for the lead technician or the owner") : "",
  ];
  return jobHead(
    view,
    h("span", {}, h("span", { class: "step-head-code" }, found.code), ` ${title}`),
    h("p", { class: "step-where" }, words.filter(Boolean).join(" · ")),
    sayings(page).map((text) => h("p", { class: "step-say" }, text)),
  );
}

const sayings = (page) =>
  [...new Set(page.steps.map((each) => each.instruction))].filter(Boolean).slice(0, 3);

const toTable = (view, page) =>
  h(
    "a",
    { class: "btn btn-secondary to-table", href: `#/job/${view.pk}/step/${page.steps[0].pk}` },
    icon("arrow-left"),
    interpolate(gettext(" All of {code}"), { code: page.code }),
  );

const locked = (locks, isStrict = true) =>
  notice(
    "warning",
    "lock",
    h("strong", {}, gettext("Locked: ")),
    `${locks.join("; ")}.${isStrict ? "" : gettext(" What you record is kept and marked.")}`,
  );

// What is said beside the inputs: why nothing is asked, safety lines, reading card.
function said(view, found, locks, steps = [found]) {
  const came = cameFrom();
  return [
    came
      ? notice(
          "success",
          "check-lg",
          interpolate(gettext("{code} {title}: saved here."), { code: came.code, title: titleOf(came) }),
        )
      : "",
    locks.length ? locked(locks, isStrict(view)) : "",
    found.is_in_scope
      ? ""
      : notice("warning", "info-circle", gettext("This step is not in scope of this job.")),
    steps.some((each) => view.isReopened(each))
      ? notice(
          "warning",
          "arrow-counterclockwise",
          interpolate(gettext("Done on an earlier design; design {design_number} opens it again."), {
            design_number: view.job.design_number,
          }),
        )
      : "",
    safety(view, found, isAtWork(view, found)),
    liveLines(view, found),
    cards(steps),
    drawingLinks(view, found),
  ];
}

function cards(steps) {
  const rows = steps.flatMap((each) => each.card.filter((one) => one.when === "always"));
  const always = [...new Set(rows.map((one) => one.says))];
  return always.length
    ? h("section", { class: "card-says", "aria-label": gettext("Reading card") }, lines(always))
    : "";
}

function deviations(view, steps) {
  const found = new Map(steps.flatMap((each) => view.deviations(each)).map((one) => [one.sentence, one]));
  return [...found.values()].map((one) =>
    h(
      "div",
      { class: `notice notice-${one.verdict === "block" ? "error" : "warning"}` },
      h("p", {}, verdict(one.verdict), " ", one.sentence),
    ),
  );
}

function extras(view, found) {
  if (found.extra === "seals")
    return h("section", { class: "sheet" }, h("h2", {}, gettext("Count of holes")), sealTable(view));
  if (found.extra === "schedule")
    return h("section", { class: "sheet" }, h("h2", {}, gettext("Circuit schedule")), circuitTable(view));
  if (found.extra === "sign")
    return h(
      "a",
      { class: "btn btn-primary btn-tall", href: `#/job/${view.pk}/hand-over` },
      icon("pen"),
      gettext(" Hand over and sign"),
    );
  return "";
}
