// One place to sign: name in print, a signature drawn or typed, kept with exactly the content that was shown.
import { h, icon, tell } from "../dom.js";
import { gettext } from "../language.js";
import { keepSignature } from "../signatures.js";
import { signatureArea } from "./sign_pad.js";

const SIGN_AS = {
  technician: gettext(" Sign as technician"),
  owner: gettext(" Sign as owner"),
  licensed: gettext(" Sign as licensed person"),
  customer: gettext(" Sign as customer"),
};

export function signForm(view, part, content, hash) {
  const name = nameField(view, part);
  const { pad, area } = signatureArea();
  const typed = h("input", { type: "checkbox", id: `typed-${part}` });
  const error = h("p", { class: "field-says", role: "alert" });
  const sign = async (event) => {
    const lacks = missing(name, pad, typed);
    if (lacks) {
      error.textContent = lacks;
      return name.value.trim() ? undefined : name.focus();
    }
    event.currentTarget.disabled = true;
    await keepSignature(view, {
      part,
      printed_name: name.value.trim(),
      signature_svg: typed.checked ? "" : pad.toSVG(),
      content,
      content_sha256: hash,
    });
    tell(gettext("Signature saved here"));
    return dispatchEvent(new HashChangeEvent("hashchange"));
  };
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
    h(
      "div",
      { class: "step-end" },
      h(
        "button",
        { class: "btn btn-primary btn-tall", type: "button", onclick: sign },
        icon("pen"),
        SIGN_AS[part],
      ),
    ),
  );
}

function nameField(view, part) {
  const known = { customer: view.job.job.customer, technician: view.person?.name };
  return h("input", {
    id: `name-${part}`,
    type: "text",
    maxlength: "150",
    autocomplete: "off",
    value: known[part] ?? "",
  });
}

function missing(name, pad, typed) {
  if (!name.value.trim()) return gettext("Please print the name under the signature.");
  if (pad.isEmpty() && !typed.checked) {
    return gettext("Please draw the signature, or tick that the typed name stands for it.");
  }
  return "";
}
