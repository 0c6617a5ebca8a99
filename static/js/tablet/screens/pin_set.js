// Sets the PIN that unlocks this tablet for the person signed in.
import { ask } from "../ask.js";
import { deviceId } from "../db.js";
import { h, icon, tell } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { setPin } from "../people.js";
import { pinProblem } from "../pin.js";
import { greet } from "../sending/hello.js";
import { urls } from "../sending/link.js";

export function askForPin(person) {
  const [one, two] = [gettext("New PIN, 4 to 8 digits"), gettext("The same again")].map(input);
  const says = h("p", { class: "field-says", role: "alert" });
  const close = () => dialog.remove();
  const keep = async (event) => {
    event.preventDefault();
    const problem =
      one.field.value === two.field.value
        ? pinProblem(one.field.value)
        : gettext("The two are not the same.");
    says.textContent = problem || gettext("Setting …");
    if (problem) return;
    try {
      await setPin(person, one.field.value, tellServer);
    } catch (trouble) {
      says.textContent = interpolate(gettext("Not set, this needs a network: {message}"), {
        message: trouble.message || gettext("no answer"),
      });
      return;
    }
    close();
    tell(gettext("PIN set"));
    dispatchEvent(new HashChangeEvent("hashchange"));
  };
  const dialog = h(
    "dialog",
    { class: "ask", "aria-label": gettext("PIN of this tablet") },
    h(
      "form",
      { onsubmit: keep },
      h(
        "p",
        { class: "ask-words" },
        interpolate(gettext("{name}, your PIN unlocks this tablet, also without a network."), {
          name: person.name,
        }),
      ),
      h("p", {}, gettext("You stay signed in here for 30 days after you last used it.")),
      one.row,
      two.row,
      says,
      h(
        "div",
        { class: "ask-answers" },
        h(
          "button",
          { class: "btn btn-secondary btn-tall", type: "button", onclick: close },
          gettext("Not now"),
        ),
        h("button", { class: "btn btn-primary btn-tall" }, icon("lock"), gettext(" Set PIN")),
      ),
    ),
  );
  document.body.append(dialog);
  dialog.showModal();
}

function input(label, place) {
  const facts = { id: `pin-${place}`, type: "password", inputmode: "numeric", maxlength: "8" };
  const field = h("input", { ...facts, autocomplete: "off", class: "form-control" });
  const row = h("div", {}, h("label", { class: "input-label", for: field.id }, label), field);
  return { field, row };
}

async function tellServer(secret) {
  const { csrf } = await greet();
  const body = { device: await deviceId(), secret };
  const answer = await ask(urls.pin, { method: "POST", csrf, body });
  if (!answer.ok)
    throw new Error(
      answer.data.error ?? interpolate(gettext("the server answered {status}"), { status: answer.status }),
    );
}
