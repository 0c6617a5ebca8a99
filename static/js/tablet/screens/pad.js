// The big number pad: unit, expected value, band and bar in view; a number outside says so while it is typed.
import { h, icon, tell } from "../dom.js";
import { checked } from "../entries.js";
import { amountText, hasFractions, labelOf, storedOf } from "../units.js";
import { bandWords, bar, hints } from "./band.js";

const KEYS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "⌫"];
const NAMES = { "⌫": "Delete last", ".": "Point", "−": "Change sign" };
const PARTS = [
  ["⅛", 0.125],
  ["¼", 0.25],
  ["½", 0.5],
  ["¾", 0.75],
];

export function openPad(at, save) {
  const { view, spec, found } = at;
  const state = { text: "", part: 0, cause: "" };
  const needsCause = at.mark.mark === "fail" && found.standing.length > 0;
  const screen = h("output", { class: "pad-number", "aria-label": spec.label });
  const says = h("div", { class: "pad-says", "aria-live": "polite" });
  const place = h("div", { class: "pad-band" });
  const keep = h("button", { class: "btn btn-primary pad-save", type: "button" }, "Save");
  const dialog = h("dialog", { class: "pad-view", "aria-label": spec.label });

  const value = () => {
    const sign = state.text.startsWith("-") ? -1 : 1;
    const amount = Number(state.text || "0") + sign * state.part;
    return (state.text.replace("-", "") === "" && !state.part) || !Number.isFinite(amount)
      ? null
      : storedOf(view.job, amount, spec.unit);
  };
  const press = (key) => {
    if (key === "⌫") {
      if (state.part) state.part = 0;
      else state.text = state.text.slice(0, -1);
    } else if (key === "−") state.text = state.text.startsWith("-") ? state.text.slice(1) : `-${state.text}`;
    else if (key === ".") state.text += state.text.includes(".") ? "" : ".";
    else if (state.text.length < 12) state.text += key;
    draw();
  };
  const draw = () => {
    const now = value();
    const fraction =
      PARTS.filter(([, size]) => size === state.part).map(([sign]) => sign)[0] ??
      (state.part ? `+${amountInSixteenths(state.part)}` : "");
    screen.replaceChildren(
      h(
        "span",
        { class: "pad-digits" },
        `${state.text.replace("-", "−") || (state.part ? "" : "–")}${fraction ? ` ${fraction}` : ""}`,
      ),
      h("span", { class: "pad-unit" }, labelOf(view.job, spec.unit)),
    );
    const mark = now === null ? at.mark : judged(at, now);
    place.replaceChildren(...[bar(mark, now)].filter((one) => one.nodeType));
    const problem = now === null ? "" : (checked(view.job, spec, now).error ?? "");
    const out = ["fail", "caution"].includes(mark.mark) && now !== null && !problem;
    says.replaceChildren(
      ...[
        problem ? h("p", { class: "field-says" }, icon("x-octagon"), ` ${problem}`) : "",
        out
          ? h(
              "p",
              { class: "field-says" },
              icon("x-octagon"),
              ` ${clean(mark.sentence, spec) || "Outside the accepted band."}`,
            )
          : "",
        ...(out
          ? hints(at.step, mark, now).map((text) =>
              h("p", { class: "field-hint" }, icon("hand-index"), ` ${text}`),
            )
          : []),
        ...(out || problem || now === null ? [] : news(at, now)),
      ].filter((one) => one.nodeType),
    );
    keep.disabled = now === null || Boolean(problem) || (needsCause && !state.cause);
    keep.textContent = now === null ? "Save" : out ? "Save it all the same" : "Save";
  };

  keep.addEventListener("click", () => {
    const now = value();
    dialog.close();
    save(at, now, state.cause);
  });
  const key = (name) =>
    h(
      "button",
      { type: "button", class: "pad-key", "aria-label": NAMES[name], onclick: () => press(name) },
      name,
    );
  dialog.append(
    h(
      "div",
      { class: "pad-head" },
      h("h2", {}, spec.label),
      h(
        "button",
        { class: "btn btn-secondary", type: "button", onclick: () => dialog.close() },
        icon("x-lg"),
        " Close",
      ),
    ),
    h(
      "div",
      { class: "pad-side" },
      h("p", { class: "field-band" }, bandWords(view, spec, at.mark) || " "),
      found.standing.length
        ? h(
            "p",
            { class: "pad-last" },
            `Last: ${found.standing.map((event) => `${amountText(view.job, event.value, spec.unit)} ${labelOf(view.job, spec.unit)}`).join(", ")}`,
          )
        : "",
      screen,
      place,
      says,
      needsCause ? causes(view, state, draw) : "",
    ),
    h(
      "div",
      { class: "pad-keys" },
      KEYS.map(key),
      hasFractions(view.job, spec.unit)
        ? PARTS.map(([sign, size]) =>
            h(
              "button",
              {
                type: "button",
                class: "pad-key pad-part",
                "aria-label": `plus ${size}`,
                onclick: () => {
                  state.part = (state.part + size) % 1;
                  draw();
                },
              },
              sign,
            ),
          )
        : "",
      (spec.min ?? -1) < 0 ? key("−") : "",
      keep,
    ),
  );
  dialog.addEventListener("keydown", (event) => {
    const typed = { Backspace: "⌫", "-": "−", ",": "." }[event.key] ?? event.key;
    if ([...KEYS, "−"].includes(typed)) {
      press(typed);
      event.preventDefault();
    } else if (event.key === "Enter" && !keep.disabled && event.target.closest(".pad-key") === null)
      keep.click();
  });
  dialog.addEventListener("close", () => {
    dialog.remove();
    document.querySelector(`[data-key="pad-${at.step.pk}/${spec.name}"]`)?.focus();
  });
  document.body.append(dialog);
  draw();
  dialog.showModal();
  tell(`${spec.label}. ${bandWords(view, spec, at.mark)}`);
}

function amountInSixteenths(part) {
  return `${Math.round(part * 8)}/8`;
}

const clean = (sentence, spec) => {
  const words = (sentence ?? "").replace(`${spec.label}: `, "");
  return words ? words[0].toUpperCase() + words.slice(1) : "";
};

const trial = (at, value) => ({
  id: "ffffffff-ffff-4fff-bfff-ffffffffffff",
  step: at.step.pk,
  verb: "record",
  field: at.spec.name,
  value,
  photo: null,
  undoes: null,
  replaces: at.found.standing.map((event) => event.id),
  by_name: "",
  by_role: "",
  at: new Date().toISOString(),
  design_number: at.view.job.design_number,
});

// What is made of a value in place of all that stands.
export const judged = (at, value) => at.view.with(trial(at, value)).mark(at.step).fields[at.spec.name];

// What this number would do to the sums, told before it is saved.
function news(at, value) {
  if (!at.spec.feeds) return [];
  const before = new Set(at.view.deviations(at.step).map((one) => one.sentence));
  return at.view
    .with(trial(at, value))
    .deviations(at.step)
    .filter((one) => !before.has(one.sentence) && one.verdict !== "pass")
    .map((one) => h("p", { class: "field-says" }, icon("exclamation-triangle"), ` ${one.sentence}`));
}

function causes(view, state, draw) {
  const buttons = view.job.causes.map(([value, words]) =>
    h(
      "button",
      {
        class: "choice",
        type: "button",
        "aria-pressed": "false",
        onclick: (event) => {
          state.cause = value;
          for (const one of buttons) {
            one.setAttribute("aria-pressed", String(one === event.currentTarget));
            one.classList.toggle("choice-on", one === event.currentTarget);
          }
          draw();
        },
      },
      h("span", { class: "choice-dot", "aria-hidden": "true" }),
      words,
    ),
  );
  return h(
    "div",
    {},
    h("p", { class: "input-label" }, "The last number failed and stays on record. Why is it read again?"),
    h("div", { class: "choices" }, buttons),
  );
}
