// Parts to load for the job: each line ticked with its quantity, and what is missing told to the office.
import { h, icon } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { record } from "../record.js";
import { isLoaded, loadsOf, seenOf } from "../rules/loads.js";
import { labelOf, shown, storedOf } from "../units.js";
import { g } from "../words.js";
import { once } from "./field/saving.js";
import { jobHead, notice, whoWhen } from "./parts.js";

export function load(view) {
  const { pull = [], pull_groups: groups = [] } = view.job;
  const loads = loadsOf(view.jobEvents);
  const done = pull.filter((line) => isLoaded(line, loads.loaded[line.key])).length;
  return h(
    "div",
    {},
    jobHead(view, gettext("Parts to load")),
    pull.length
      ? h(
          "p",
          { class: "queue-now" },
          interpolate(gettext("{done} of {pull} loaded."), { done, pull: pull.length }),
        )
      : notice(
          "warning",
          "download",
          gettext("Take the job again while you have a network: its list comes with it."),
        ),
    missing(view, pull, loads),
    groups.map(([name, words]) =>
      group(
        view,
        words,
        pull.filter((line) => line.group === name),
        loads,
      ),
    ),
    h(
      "section",
      { class: "sheet" },
      h("h2", {}, gettext("Something else is missing")),
      shortForm(view, { key: "other:new", unit: "each", text: gettext("Something else") }, loads),
    ),
  );
}

function group(view, words, lines, loads) {
  if (!lines.length) return "";
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, words),
    h(
      "ul",
      { class: "queue" },
      lines.map((line) => row(view, line, loads)),
    ),
  );
}

export function amount(job, line, value) {
  if (line?.unit === "m") return shown(job, value, "m");
  return `${g(value)}${line && line.unit !== "each" ? ` ${line.unit}` : ""}`;
}

function row(view, line, loads) {
  const state = loads.loaded[line.key];
  const isDone = isLoaded(line, state);
  const words = h(
    "span",
    {},
    h(
      "strong",
      {},
      `${amount(view.job, line, line.quantity)}${line.unit === "each" ? " ×" : ","} ${line.text}`,
    ),
    line.note ? h("span", { class: "tick-by" }, line.note) : "",
    (state?.standing ?? []).map((event) =>
      h(
        "span",
        { class: "tick-by" },
        interpolate(gettext("{amount} loaded, "), { amount: amount(view.job, line, event.value) }),
        whoWhen(event),
      ),
    ),
    state?.values.length > 1 ? h("span", { class: "tick-out" }, gettext("Counted twice: count again.")) : "",
  );
  const box = h("span", { class: "tick-box" }, isDone ? icon("check-lg") : "");
  return h(
    "li",
    {},
    isDone
      ? h("div", { class: "tick tick-on" }, box, words, takeBack(view, line, state))
      : h(
          "button",
          {
            class: "tick",
            type: "button",
            "data-key": `load-${line.key}`,
            onclick: ({ currentTarget }) => loaded(view, line, line.quantity, loads, currentTarget),
          },
          box,
          words,
        ),
    isDone ? "" : h("details", { class: "change" }, summary(line), another(view, line, loads)),
  );
}

const summary = (line) =>
  h(
    "summary",
    { "data-key": `more-${line.key}` },
    gettext("Another quantity, or missing"),
    h("span", { class: "visually-hidden" }, `: ${line.text}`),
  );

const another = (view, line, loads) => [
  quantityForm(view, line, gettext("Loaded"), (value, _, control) => {
    loaded(view, line, value, loads, control);
    return "";
  }),
  shortForm(view, line, loads),
];

const takeBack = (view, line, state) =>
  h(
    "button",
    {
      class: "btn btn-secondary undo",
      type: "button",
      "data-key": `unload-${line.key}`,
      "aria-label": interpolate(gettext("Undo {text}"), { text: line.text }),
      onclick: ({ currentTarget }) =>
        once(
          `load-${line.key}`,
          currentTarget,
          () =>
            record(
              view,
              state.standing.map((event) => ({ step: null, verb: "undo", undoes: event.id })),
            ),
          `${line.text}: taken back`,
        ),
    },
    icon("arrow-counterclockwise"),
    gettext(" Undo"),
  );

// All of a line loaded settles what was missing of it, in the same breath.
function loaded(view, line, value, loads, control) {
  const entries = [
    { step: null, verb: "load", field: line.key, value, replaces: seenOf(loads.loaded, line.key) },
  ];
  const isShort = loads.shortages.some((one) => one.key === line.key);
  if (isShort && value >= line.quantity - 1e-6) entries.push(short(line.key, 0, "loaded after all", loads));
  return once(
    `load-${line.key}`,
    control,
    () => record(view, entries),
    interpolate(gettext("{text}: saved here"), { text: line.text }),
  );
}

const short = (key, count, note, loads) => ({
  step: null,
  verb: "short",
  field: key,
  value: { missing: count, note },
  replaces: seenOf(loads.short, key),
});

function shortForm(view, line, loads) {
  const isNew = line.key === "other:new";
  const keep = (value, note, control) => {
    if (isNew && !note) return gettext("Please say what is missing.");
    const key = isNew ? `other:${crypto.randomUUID()}`.slice(0, 40) : line.key;
    once(
      `short-${line.key}`,
      control,
      () => record(view, [short(key, value, note, loads)]),
      gettext("Told the office"),
    );
    return "";
  };
  return quantityForm(view, line, gettext("Missing"), keep, true);
}

// A number with its unit, a note if asked, and one button; ``keep`` returns what is wrong, if anything.
function quantityForm(view, line, words, keep, hasNote = false) {
  const id = `${words.toLowerCase()}-${line.key}`;
  const field = h("input", {
    id,
    class: "form-control",
    inputmode: "decimal",
    "data-key": id,
    maxlength: "12",
  });
  const note = h("input", {
    id: `note-${id}`,
    class: "form-control",
    maxlength: "400",
    "data-key": `note-${id}`,
  });
  const error = h("p", { class: "field-says", role: "alert" });
  const unit = line.unit === "m" ? labelOf(view.job, "m") : line.unit === "each" ? "" : line.unit;
  const go = ({ currentTarget }) => {
    const typed = Number(field.value.replace(",", "."));
    const isRight = field.value.trim() && Number.isFinite(typed) && typed >= 0 && typed <= 100_000;
    const stored = line.unit === "m" ? storedOf(view.job, typed, "m") : typed;
    error.textContent = isRight
      ? keep(stored, note.value.trim(), currentTarget)
      : gettext("A number, please.");
  };
  return h(
    "div",
    { class: "word-row" },
    h("label", { for: id, class: "input-label" }, `${words}${unit ? `, ${unit}` : ""}`),
    field,
    hasNote ? [h("label", { for: note.id, class: "input-label" }, gettext("Note")), note] : "",
    h("button", { class: "btn btn-secondary", type: "button", "data-key": `go-${id}`, onclick: go }, words),
    error,
  );
}

function missing(view, pull, loads) {
  if (!loads.shortages.length) return "";
  const lines = new Map(pull.map((line) => [line.key, line]));
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, gettext("Missing, told to the office")),
    h(
      "ul",
      { class: "queue" },
      loads.shortages.map((one) => {
        const line = lines.get(one.key);
        const what = line?.text ?? gettext("Not on the list");
        const words = `${amount(view.job, line, one.missing)} ${what}${one.note ? `: “${one.note}”` : ""}`;
        return h("li", {}, icon("exclamation-triangle"), h("strong", {}, ` ${words} `), whoWhen(one.event));
      }),
    ),
  );
}
