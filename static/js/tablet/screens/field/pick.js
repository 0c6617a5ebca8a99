// Big answers over the page: one of several, any number of them, or lines ticked off.
import { h, icon } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { keysOf, listValue, NONE } from "../../rules/lists.js";
import { unfinished } from "../../unfinished.js";
import { openSheet } from "../sheet.js";
import { expectedLine } from "./expected.js";

const dot = () => h("span", { class: "choice-dot", "aria-hidden": "true" });

function answer(label, isOn, onclick, { isDisabled = false } = {}) {
  return h(
    "button",
    {
      class: `choice${isOn ? " choice-on" : ""}`,
      type: "button",
      "aria-pressed": String(isOn),
      disabled: isDisabled,
      onclick,
    },
    dot(),
    h("span", {}, label),
  );
}

export function choiceSheet(at, value, keep) {
  const pick = (key) => {
    sheet.close();
    keep(key);
  };
  const sheet = openSheet(at.title, [
    expectedLine(at),
    h(
      "div",
      { class: "choices" },
      at.spec.choices.map(([key, label]) => answer(label, key === value, () => pick(key))),
    ),
    clearButton(at, value, () => sheet.close()),
  ]);
}

function clearButton(at, value, close) {
  if (value === null || value === undefined || at.found.value === value) return "";
  const clear = () => {
    close();
    at.clear();
  };
  return h(
    "button",
    { class: "btn btn-secondary btn-tall", type: "button", onclick: clear },
    gettext("Leave it empty"),
  );
}

export function severalSheet(at, value, keep) {
  const pick = (found) => {
    sheet.close();
    keep(found);
  };
  const sheet = openSheet(at.title, [severalAnswers(at, value, pick)]);
}

// Any number of answers, then Save; "none" is one tap.
export function severalAnswers(at, value, keep) {
  const { spec } = at;
  const chosen = new Set(keysOf(value).filter((key) => key !== NONE));
  const place = h("div", {});
  const turn = (key) => {
    if (!chosen.delete(key)) chosen.add(key);
    unfinished(place, true);
    draw();
  };
  const draw = () =>
    place.replaceChildren(
      h(
        "div",
        { class: "none-first" },
        answer(spec.none_says || "None", value === NONE, () => keep(NONE)),
      ),
      h(
        "div",
        { class: "choices" },
        spec.choices.map(([key, label]) => answer(label, chosen.has(key), () => turn(key))),
      ),
      h(
        "button",
        {
          class: "btn btn-primary btn-tall several-save",
          type: "button",
          disabled: !chosen.size,
          onclick: () => keep(listValue(spec, [...chosen])),
        },
        interpolate(gettext("Save {size}"), { size: chosen.size || "" }).trim(),
      ),
    );
  draw();
  return place;
}

export function linesSheet(at, value, keep) {
  const pick = (found) => {
    sheet.close();
    keep(found);
  };
  const sheet = openSheet(at.title, [lineButtons(at, value, pick)]);
}

// The lines of one tick: each by a tap, or all at once where their order does not matter.
export function lineButtons(at, value, keep) {
  const { spec } = at;
  const done = keysOf(value);
  const first = spec.lines.find(([key]) => !done.includes(key))?.[0];
  const row = ([key, words]) => {
    const isOn = done.includes(key);
    const isLater = spec.ordered && !isOn && key !== first;
    return h(
      "li",
      {},
      h(
        "button",
        {
          class: `line${isOn ? " line-on" : ""}${isLater ? " line-later" : ""}`,
          type: "button",
          disabled: isOn || isLater || !at.canRecord,
          "data-key": `line-${at.step.pk}-${spec.name}-${key}`,
          onclick: ({ currentTarget }) => keep(listValue(spec, [...done, key]), currentTarget),
        },
        h("span", { class: "tick-box" }, isOn ? icon("check-lg") : ""),
        h("span", { class: "tick-words" }, words),
      ),
    );
  };
  const hasAll = !spec.ordered && at.canRecord && done.length < spec.lines.length && spec.lines.length > 1;
  const all = () =>
    listValue(
      spec,
      spec.lines.map(([key]) => key),
    );
  return [
    h(spec.ordered ? "ol" : "ul", { class: "lines" }, spec.lines.map(row)),
    hasAll
      ? h(
          "button",
          {
            class: "tick all-lines",
            type: "button",
            "data-key": `all-${at.step.pk}-${spec.name}`,
            onclick: ({ currentTarget }) => keep(all(), currentTarget),
          },
          h("span", { class: "tick-box" }),
          h(
            "span",
            { class: "tick-words" },
            done.length ? gettext("The rest of these, too") : gettext("All of these"),
          ),
        )
      : "",
  ];
}
