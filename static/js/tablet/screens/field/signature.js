// A field that is signed: the name in print, the signature drawn above it or the typed name instead.
import { h, icon } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { checked } from "../../rules/entries.js";
import { inkOf, inkSvg } from "../../rules/ink.js";
import { signatureArea } from "../sign_pad.js";
import { byWhom, fieldName, keyOf, save, undoButton } from "./saving.js";

export function signature(at) {
  const { found, canRecord } = at;
  const asks = canRecord && (!found.standing.length || found.isConflict);
  return [fieldName(at.spec), found.standing.map((event) => signed(at, event)), asks ? pad(at) : ""];
}

function signed(at, event) {
  const { name, ink } = event.value ?? {};
  const image = h("img", {
    class: "standing-ink",
    alt: interpolate(gettext("Signature of {name}"), { name }),
  });
  if (ink) image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(inkSvg(ink))}`;
  return h(
    "div",
    { class: "standing" },
    ink ? image : "",
    h("span", { class: "standing-value" }, at.view.say(at.spec, event)),
    h("span", { class: "standing-by" }, byWhom(at, event)),
    at.canRecord ? undoButton(at, event) : "",
  );
}

function pad(at) {
  const { spec, step } = at;
  const name = nameInput(at);
  const { pad: drawing, canvas, area } = signatureArea();
  const typed = h("input", { type: "checkbox", id: `typed-${step.pk}-${spec.name}` });
  const error = h("p", { class: "field-says", role: "alert" });
  const sign = ({ currentTarget }) => {
    const strokes = typed.checked ? [] : drawing.toData().map(({ points }) => points);
    const size = { width: canvas.offsetWidth, height: canvas.offsetHeight };
    const value = { name: name.value.trim(), ink: inkOf(strokes, size) };
    const lacks =
      value.ink || typed.checked ? "" : gettext("Draw the signature, or tick that the typed name is it.");
    const problem = checked(at.view.job, spec, value).error ?? lacks;
    error.textContent = problem;
    if (!problem) save(at, value, "", currentTarget);
  };
  const facts = { class: "btn btn-primary btn-tall", type: "button", "data-key": keyOf(at), onclick: sign };
  return h(
    "div",
    { class: "sign-form" },
    h("label", { class: "input-label", for: name.id }, gettext("Printed name")),
    h("div", { class: "word-row" }, name),
    area,
    h(
      "label",
      { class: "choice", for: typed.id },
      typed,
      h("span", {}, gettext("The typed name is the signature")),
    ),
    error,
    h("div", { class: "step-end" }, h("button", facts, icon("pen"), gettext(" Sign"))),
  );
}

function nameInput({ view, spec, step }) {
  return h("input", {
    id: `sign-${step.pk}-${spec.name}`,
    type: "text",
    maxlength: "150",
    autocomplete: "off",
    value: spec.signer === "customer" ? view.job.job.customer : "",
  });
}
