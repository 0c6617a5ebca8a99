// Cells out of band are asked about once more, with the reading card, before they are saved.
import { h, icon } from "../../dom.js";
import { gettext } from "../../language.js";
import { bandWords, hintLines } from "../band.js";
import { rowTitle } from "../pages.js";
import { openSheet } from "../sheet.js";

// Returns what is out of band of all that was typed: { title, value, says, band, step, mark, number }.
export function outOfBand(trial, typed, draft) {
  return typed
    .map((at) => ({ ...at, mark: trial.mark(at.step).fields[at.spec.name] }))
    .filter(
      ({ mark }) => ["fail", "missing"].includes(mark?.mark) || (mark?.mark === "caution" && mark.sentence),
    )
    .map(({ step, spec, mark }) => {
      const { value } = draft.of(step, spec);
      return {
        title: `${rowTitle(step)} · ${spec.label}`,
        value: trial.say(spec, { value }),
        says: mark.sentence.replace(`${spec.label}: `, ""),
        band: bandWords(trial, spec, mark),
        hints: hintLines(step, mark, value),
      };
    });
}

// Resolves to whether all of them are to be saved as they are.
export function sureOf(found) {
  return new Promise((answer) => {
    let isSure = false;
    const sheet = openSheet(
      gettext("Look again before it is saved"),
      [found.map(one), h("div", { class: "ask-answers" })],
      {
        onClose: () => answer(isSure),
      },
    );
    const end = (sure) => {
      isSure = sure;
      sheet.close();
    };
    sheet
      .querySelector(".ask-answers")
      .append(
        h(
          "button",
          { class: "btn btn-primary btn-tall", type: "button", onclick: () => end(false) },
          gettext("Back to the table"),
        ),
        h(
          "button",
          { class: "btn btn-secondary btn-tall", type: "button", onclick: () => end(true) },
          gettext("It reads this: save it"),
        ),
      );
  });
}

const one = ({ title, value, says, band, hints }) =>
  h(
    "section",
    { class: "field field-fail" },
    h("h3", { class: "field-name" }, title),
    h("p", { class: "standing-value" }, icon("x-octagon"), ` ${value}`),
    band ? h("p", { class: "field-band" }, band) : "",
    h("p", { class: "field-says" }, says[0]?.toUpperCase() + says.slice(1)),
    hints,
  );
