// A field of several lines ticked off, and one with any number of answers.
import { h } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { keysOf } from "../../rules/lists.js";
import { lineButtons, severalAnswers } from "./pick.js";
import { byWhom, fieldName, keyOf, save, standing, undoButton } from "./saving.js";

export function linesField(at) {
  const { found, canRecord, spec } = at;
  const event = found.standing[0];
  const have = keysOf(found.value).length;
  const keep = (value, control) => save(at, value, "", control);
  return [
    h(
      "h2",
      { class: "field-name" },
      spec.label,
      h(
        "span",
        { class: "field-optional" },
        spec.ordered
          ? interpolate(gettext(" {have} of {lines}, in this order"), { have, lines: spec.lines.length })
          : interpolate(gettext(" {have} of {lines}"), { have, lines: spec.lines.length }),
      ),
    ),
    lineButtons(at, found.value, keep),
    event && !found.isConflict
      ? h(
          "div",
          { class: "standing" },
          h("span", { class: "standing-by" }, byWhom(at, event)),
          canRecord ? undoButton(at, event) : "",
        )
      : "",
  ];
}

export function severalField(at) {
  const keep = (value) =>
    save(at, value, "", document.querySelector(`[data-key="${CSS.escape(keyOf(at))}"]`));
  return [
    fieldName(at.spec),
    standing(at),
    at.canRecord ? h("div", { "data-key": keyOf(at) }, severalAnswers(at, at.found.value, keep)) : "",
  ];
}
