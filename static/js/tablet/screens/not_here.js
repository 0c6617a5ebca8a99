// "Does not apply": a reason for a step or for rows of a table, seen afterwards, taken back by one tap.
import { h, icon, tell } from "../dom.js";
import { gettext } from "../language.js";
import { record, recordPhotoEntry } from "../record.js";
import { NOTHING } from "../rules/reducer.js";
import { shrink } from "../shrink.js";
import { keyOf, once, undoButton } from "./field/saving.js";
import { rowTitle } from "./pages.js";
import { whoWhen } from "./parts.js";
import { openSheet } from "./sheet.js";

const NAME = "not_here";
const MORE = { other: "not_here_why", maker_forbids: "not_here_photo", no_sun: "not_here_visit" };

// The fields that belong to "does not apply" and are not asked by themselves.
export const isExtra = (spec) => spec.name === NAME || Object.values(MORE).includes(spec.name);

const reasonOf = (view, step) => view.fields(step).find((spec) => spec.name === NAME);
export const canBeLeft = (view, step) => Boolean(reasonOf(view, step));
export const isLeft = (view, step) => Boolean((view.state(step).fields[NAME] ?? NOTHING).value);

// What stands: the reason, who gave it, and the way back.
export function leftOut(view, step, canRecord) {
  const spec = reasonOf(view, step);
  const found = view.state(step).fields[NAME] ?? NOTHING;
  if (!spec || !found.standing.length) return "";
  const mark = view.mark(step).fields[NAME] ?? {};
  const at = { view, step, spec, found, canRecord };
  return found.standing.map((event) =>
    h(
      "div",
      { class: "not-here" },
      icon("x-lg"),
      h(
        "p",
        {},
        h("strong", {}, gettext("Does not apply"), step.subject ? ` (${rowTitle(step)}): ` : ": "),
        view.say(spec, event),
        more(view, step, found.value),
        whoWhen(event, view.job.design_number),
        mark.mark === "missing" && mark.sentence ? h("span", { class: "field-says" }, mark.sentence) : "",
      ),
      canRecord ? undoButton(at, event, gettext("“does not apply”")) : "",
    ),
  );
}

function more(view, step, reason) {
  const name = MORE[reason];
  const event = name && view.state(step).fields[name]?.standing.at(-1);
  if (!event) return "";
  return event.photo ? gettext(", with a photo") : `: ${event.value}`;
}

// The button of a step or table; ``steps`` are those that may be left out.
export function leaveButton(view, steps) {
  const able = steps.filter((step) => canBeLeft(view, step) && !isLeft(view, step));
  if (!able.length) return "";
  return h(
    "button",
    {
      class: "btn btn-secondary btn-tall leave-out",
      type: "button",
      "data-key": `leave-${able[0].pk}`,
      onclick: () => ask(view, able),
    },
    icon("x-lg"),
    gettext(" Does not apply …"),
  );
}

function ask(view, steps) {
  const chosen = new Set(steps);
  const place = h("div", {});
  const sheet = openSheet(gettext("Why does it not apply?"), [
    steps.length > 1 ? rowButtons(steps, chosen) : "",
    h(
      "div",
      { class: "choices" },
      reasons(view, steps).map(([key, words]) =>
        h(
          "button",
          { class: "choice", type: "button", onclick: () => picked(view, chosen, key, place, sheet) },
          h("span", { class: "choice-dot", "aria-hidden": "true" }),
          h("span", {}, words[0].toUpperCase() + words.slice(1)),
        ),
      ),
    ),
    place,
  ]);
}

// Only reasons that every one of these steps allows.
function reasons(view, steps) {
  const [first, ...others] = steps.map((step) => reasonOf(view, step).choices);
  return first.filter(([key]) => others.every((choices) => choices.some(([one]) => one === key)));
}

const rowName = (step) => (step.subject ? rowTitle(step) : "What they have in common");

function rowButtons(steps, chosen) {
  const button = (step) => {
    const turn = ({ currentTarget }) => {
      if (!chosen.delete(step)) chosen.add(step);
      currentTarget.setAttribute("aria-pressed", String(chosen.has(step)));
      currentTarget.classList.toggle("choice-on", chosen.has(step));
    };
    const facts = { class: "choice choice-on", type: "button", "aria-pressed": "true", onclick: turn };
    return h("button", facts, h("span", { class: "choice-dot", "aria-hidden": "true" }), rowName(step));
  };
  return h(
    "div",
    { class: "choices row-choices", role: "group", "aria-label": gettext("Rows") },
    steps.map(button),
  );
}

// A plain reason is recorded at once; some ask one thing more.
function picked(view, chosen, reason, place, sheet) {
  if (!chosen.size) return tell(gettext("Choose at least one row."));
  const keep = (extra) => {
    sheet.close();
    return keepReason(view, [...chosen], reason, extra);
  };
  const name = MORE[reason];
  const spec = name && view.fields([...chosen][0]).find((one) => one.name === name);
  if (!spec) return keep(null);
  place.replaceChildren(spec.kind === "photo" ? photoAsked(spec, keep) : wordsAsked(spec, keep));
  return place.querySelector("input")?.focus();
}

function wordsAsked(spec, keep) {
  const type = spec.format === "date" ? "date" : "text";
  const input = h("input", { id: "leave-more", type, maxlength: "400", autocomplete: "off" });
  const go = () => (input.value.trim() ? keep({ spec, value: input.value.trim() }) : input.focus());
  return h(
    "div",
    { class: "field" },
    h("label", { class: "input-label", for: "leave-more" }, spec.label),
    h(
      "div",
      { class: "word-row" },
      input,
      h("button", { class: "btn btn-primary", type: "button", onclick: go }, gettext("Save")),
    ),
  );
}

function photoAsked(spec, keep) {
  const says = h("p", { class: "field-says", role: "alert" });
  const facts = { type: "file", id: "leave-photo", accept: "image/*", capture: "environment" };
  const input = h("input", { ...facts, class: "visually-hidden" });
  input.addEventListener("change", async () => {
    const shot = await shrink(input.files[0]);
    if (shot.error) says.textContent = shot.error;
    else keep({ spec, shot });
  });
  return h(
    "div",
    { class: "field" },
    input,
    h("label", { class: "camera", for: "leave-photo" }, icon("camera"), h("span", {}, spec.label)),
    says,
  );
}

function keepReason(view, steps, reason, extra) {
  const spec = reasonOf(view, steps[0]);
  const at = { step: steps[0], spec, view };
  const button = document.querySelector(`[data-key="leave-${steps[0].pk}"]`);
  const seen = (step, name) => (view.state(step).fields[name]?.standing ?? []).map((event) => event.id);
  const values = steps.flatMap((step) => [
    { step: step.pk, field: NAME, value: reason, replaces: seen(step, NAME) },
    ...(extra && !extra.shot
      ? [{ step: step.pk, field: extra.spec.name, value: extra.value, replaces: seen(step, extra.spec.name) }]
      : []),
  ]);
  const shots = extra?.shot ? recordPhotoEntry(steps, extra.spec, extra.shot) : { entries: [], extras: {} };
  return once(
    keyOf(at),
    button,
    () => record(view, [...values, ...shots.entries], shots.extras),
    gettext("Does not apply: saved here"),
    at,
  );
}
