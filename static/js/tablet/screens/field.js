// One field: a tick row, a number with its band, a choice, words, or pictures; one tap records, one tap takes back.
import { h, icon, tell } from "../dom.js";
import { checked } from "../entries.js";
import { photoWords } from "../judging.js";
import { recordPhoto, recordValue, undo } from "../record.js";
import { NOTHING } from "../reducer.js";
import { shrink } from "../shrink.js";

import { bandWords, bar, hints } from "./band.js";
import { judged, openPad } from "./pad.js";
import { saving, whoWhen } from "./parts.js";
import { thumb } from "./thumbs.js";

export function field(view, step, spec, canRecord) {
  const at = {
    view,
    step,
    spec,
    canRecord,
    found: view.state(step).fields[spec.name] ?? NOTHING,
    mark: view.mark(step).fields[spec.name] ?? { mark: "missing", sentence: "" },
  };
  const body = { tick: tickRow, photo: pictures, number, choice }[spec.kind] ?? words;
  const isPlain =
    at.mark.mark === "missing" && (spec.kind === "photo" || at.mark.sentence === `${spec.label}: missing`);
  const says = at.mark.sentence && !isPlain ? at.mark.sentence.replace(`${spec.label}: `, "") : "";
  return h(
    "section",
    { class: `field field-${at.mark.mark}`, "aria-label": spec.label },
    body(at),
    at.found.isConflict ? settle(at) : "",
    says && !at.found.isConflict
      ? h(
          "p",
          { class: "field-says" },
          icon(["fail", "conflict"].includes(at.mark.mark) ? "x-octagon" : "exclamation-triangle"),
          ` ${says[0].toUpperCase()}${says.slice(1)}`,
        )
      : "",
    spec.kind === "number"
      ? hints(step, at.mark, at.found.value).map((text) =>
          h("p", { class: "field-hint" }, icon("hand-index"), ` ${text}`),
        )
      : "",
  );
}

// Only one record at a time: a second tap on a row that is being saved is the same tap.
const busy = new Set();
async function once(key, control, work, words) {
  if (busy.has(key)) return;
  busy.add(key);
  saving(control);
  try {
    await work();
    if (words) tell(words);
  } finally {
    busy.delete(key);
  }
  dispatchEvent(new HashChangeEvent("hashchange")); // draws the view anew
}

const padButton = (at) => document.querySelector(`[data-key="pad-${CSS.escape(keyOf(at))}"]`);
const keyOf = ({ step, spec }) => `${step.pk}/${spec.name}`;
const save = (at, value, cause = "", control = padButton(at)) =>
  once(
    keyOf(at),
    control,
    () => recordValue(at.view, at.step, at.spec, value, cause),
    `${at.spec.label}: saved here`,
  );
const takeBack = (at, event, control) =>
  once(`${keyOf(at)}/undo`, control, () => undo(at.view, at.step, event), `${at.spec.label}: taken back`);

const undoButton = (at, event, what = at.spec.label) =>
  h(
    "button",
    {
      class: "btn btn-secondary undo",
      type: "button",
      "data-key": `undo-${keyOf(at)}`,
      "aria-label": `Undo ${what}`,
      onclick: ({ currentTarget }) => takeBack(at, event, currentTarget),
    },
    icon("arrow-counterclockwise"),
    " Undo",
  );

const by = (at, event) => whoWhen(event, at.view.job.design_number);

function tickRow(at) {
  const { spec, found, canRecord } = at;
  const event = found.standing[0];
  if (event) {
    return h(
      "div",
      { class: "tick tick-on" },
      h("span", { class: "tick-box" }, icon("check-lg")),
      h("span", { class: "tick-words" }, spec.label, by(at, event)),
      canRecord ? undoButton(at, event) : "",
    );
  }
  return tickButton(at, spec.label, true);
}

function tickButton(at, label, value) {
  if (!at.canRecord)
    return h(
      "div",
      { class: "tick" },
      h("span", { class: "tick-box" }),
      h("span", { class: "tick-words" }, label),
    );
  return h(
    "button",
    {
      class: "tick",
      type: "button",
      "data-key": keyOf(at),
      onclick: ({ currentTarget }) => save(at, value, "", currentTarget),
    },
    h("span", { class: "tick-box" }),
    h("span", { class: "tick-words" }, label),
  );
}

const name = (spec) =>
  h(
    "h2",
    { class: "field-name" },
    spec.label,
    spec.required ? "" : h("span", { class: "field-optional" }, " if any"),
  );

function standing(at) {
  return at.found.standing
    .filter((event) => !event.photo)
    .map((event) =>
      h(
        "div",
        { class: "standing" },
        h("span", { class: "standing-value" }, at.view.say(at.spec, event)),
        h("span", { class: "standing-by" }, by(at, event)),
        at.canRecord ? undoButton(at, event) : "",
      ),
    );
}

function number(at) {
  const { view, spec, found, mark, canRecord } = at;
  const asked = bandWords(view, spec, mark);
  const open = () => openPad(at, save);
  const isCounted = (spec.tick ?? null) !== null && !found.standing.length;
  return [
    isCounted ? "" : name(spec),
    asked && !isCounted ? h("p", { class: "field-band" }, asked) : "",
    bar(mark, found.value),
    standing(at),
    canRecord && isCounted
      ? h(
          "div",
          { class: "count-row" },
          tickButton(at, `${spec.label}: all ${spec.tick}`, spec.whole ? Math.trunc(spec.tick) : spec.tick),
          h(
            "button",
            {
              class: "btn btn-secondary count-pad",
              type: "button",
              "data-key": `pad-${keyOf(at)}`,
              "aria-label": `${spec.label}: another count`,
              onclick: open,
            },
            "Other",
          ),
        )
      : "",
    canRecord && !isCounted
      ? h(
          "button",
          {
            class: `number-open${found.standing.length ? " number-again" : ""}`,
            type: "button",
            "data-key": `pad-${keyOf(at)}`,
            onclick: open,
            "aria-label": `${found.standing.length ? "New value of" : "Enter"} ${spec.label}`,
          },
          icon("pencil"),
          found.standing.length
            ? " New value"
            : ` Enter ${spec.unit ? `in ${view.job.units[spec.unit]?.label ?? spec.unit}` : "the number"}`,
        )
      : "",
  ];
}

function choice(at) {
  const { spec, found, canRecord } = at;
  return [
    name(spec),
    h(
      "div",
      { class: "choices", role: "group", "aria-label": spec.label },
      spec.choices.map(([value, label]) => {
        const isOn = found.value === value;
        return h(
          "button",
          {
            class: `choice${isOn ? " choice-on" : ""}`,
            type: "button",
            disabled: !canRecord,
            "data-key": `${keyOf(at)}-${value}`,
            "aria-pressed": isOn ? "true" : "false",
            onclick: ({ currentTarget }) => (isOn ? null : save(at, value, "", currentTarget)),
          },
          h("span", { class: "choice-dot", "aria-hidden": "true" }),
          h("span", {}, label),
        );
      }),
    ),
    found.standing.length && !found.isConflict
      ? h(
          "div",
          { class: "standing" },
          h("span", { class: "standing-by" }, by(at, found.standing[0])),
          canRecord ? undoButton(at, found.standing[0]) : "",
        )
      : "",
  ];
}

function words(at) {
  const { spec, canRecord, step } = at;
  const id = `in-${step.pk}-${spec.name}`;
  const type = ["date", "month"].includes(spec.format) ? spec.format : "text";
  const input = h("input", {
    id,
    type,
    autocomplete: "off",
    autocapitalize: spec.kind === "serial" ? "characters" : "sentences",
    maxlength: "400",
    "data-key": keyOf(at),
  });
  const error = h("p", { class: "field-says", role: "alert" });
  const button = h(
    "button",
    { class: "btn btn-primary", type: "button", "aria-label": `Save ${spec.label}`, onclick: () => keep() },
    "Save",
  );
  const keep = () => {
    const result = checked(at.view.job, spec, input.value);
    error.textContent = result.error ?? "";
    if (!result.error) save(at, result.value, "", button);
  };
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") keep();
  });
  const entry = h(
    "div",
    { class: "word-row" },
    h("label", { class: "visually-hidden", for: id }, spec.label),
    input,
    button,
  );
  return [
    name(spec),
    spec.expected ? h("p", { class: "field-band" }, "Expected ", h("strong", {}, spec.expected)) : "",
    standing(at),
    canRecord ? entry : "",
    error,
  ];
}

function pictures(at) {
  const { spec, found, canRecord, step } = at;
  const says = h("p", { class: "field-says", role: "alert" });
  const input = h("input", {
    type: "file",
    id: `cam-${step.pk}-${spec.name}`,
    accept: "image/*",
    capture: "environment",
    multiple: true,
    class: "visually-hidden",
    "data-key": keyOf(at),
  });
  const taker = h(
    "label",
    { class: "camera", for: input.id },
    icon("camera"),
    h("span", {}, found.photos.length ? "Take another photo" : "Take a photo"),
  );
  input.addEventListener("change", () =>
    once(keyOf(at), taker, () => keepAll(at, [...input.files], says), `${spec.label}: photo saved here`),
  );
  return [
    h(
      "h2",
      { class: "field-name" },
      spec.label,
      h("span", { class: "field-optional" }, ` ${photoWords(spec, found.photos.length)}`),
    ),
    found.photos.length
      ? h(
          "ul",
          { class: "photos" },
          found.standing
            .filter((event) => event.photo)
            .map((event, place) =>
              h(
                "li",
                {},
                thumb(event, `${spec.label}, photo ${place + 1}`),
                by(at, event),
                canRecord ? undoButton(at, event, `photo ${place + 1} of ${spec.label}`) : "",
              ),
            ),
        )
      : "",
    canRecord ? [input, taker] : "",
    says,
  ];

  async function keepAll({ view: on }, files, place) {
    for (const file of files) {
      const shot = await shrink(file);
      if (shot.error) {
        place.textContent = shot.error;
        continue;
      }
      await keepShot(on, shot);
    }
  }

  // A tablet that is full keeps ticks and numbers; of the picture it says so.
  async function keepShot(on, shot) {
    try {
      await recordPhoto(on, step, spec, shot);
    } catch (problem) {
      if (problem.name !== "QuotaExceededError") throw problem;
      tell("The storage is full: this photo was not kept.");
      alertFull();
    }
  }
}

function alertFull() {
  const dialog = h(
    "dialog",
    { class: "ask", "aria-label": "Storage full" },
    h(
      "p",
      { class: "ask-words" },
      "The tablet's storage is full: this photo was not kept. Ticks and numbers still are. Send what waits, or remove jobs that are done, then take the photo again.",
    ),
    h(
      "div",
      { class: "ask-answers" },
      h(
        "button",
        {
          class: "btn btn-primary btn-tall",
          type: "button",
          onclick: () => {
            dialog.close();
            dialog.remove();
          },
        },
        "I see",
      ),
    ),
  );
  document.body.append(dialog);
  dialog.showModal();
}

// Two values that never saw each other: both are shown, a person says which is right.
function settle(at) {
  const { view, spec, found, canRecord } = at;
  const options = found.values.map((value) => {
    const event = found.standing.find((one) => one.value === value);
    const isOut = judged(at, value)?.mark === "fail";
    return h(
      "button",
      {
        class: "tick",
        type: "button",
        disabled: !canRecord,
        onclick: ({ currentTarget }) => save(at, value, "settled", currentTarget),
      },
      h(
        "span",
        { class: "tick-words" },
        `${view.say(spec, event)} is right`,
        isOut ? h("span", { class: "tick-out" }, icon("x-octagon"), " out of band") : "",
        by(at, event),
      ),
    );
  });
  return h(
    "div",
    { class: "settle" },
    h(
      "p",
      { class: "field-says" },
      icon("question-circle"),
      " Recorded twice and different. Which one is right?",
    ),
    options,
  );
}
