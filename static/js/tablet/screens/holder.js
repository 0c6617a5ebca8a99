// Who holds this tablet: signed in, its PIN, locking it for a colleague, and what the tablet is called.
import { ask } from "../ask.js";
import { deviceId, metaGet, metaPut } from "../db.js";
import { h, icon, tell } from "../dom.js";
import { choose, gettext, interpolate, LANGUAGES, language } from "../language.js";
import { leave } from "../leave.js";
import { people } from "../people.js";
import { greet } from "../sending/hello.js";
import { deviceName, link, urls } from "../sending/link.js";
import { lock } from "./pin_lock.js";
import { askForPin } from "./pin_set.js";

const known = () =>
  ({
    nobody: gettext("Nobody is signed in"),
    silent: gettext("No answer from the shop: not known who is signed in"),
  })[link.who] ?? gettext("Asking who is signed in …");

export async function holderSheet() {
  const [person, all, named] = [await metaGet("person"), await people(), await metaGet("device_name")];
  const hasPin = all.some((one) => one.id === person?.id);
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, person?.name ?? known()),
    person && !hasPin
      ? h(
          "p",
          {},
          gettext("With a PIN you stay signed in on this tablet for 30 days, and colleagues can share it."),
        )
      : "",
    h(
      "div",
      { class: "step-end" },
      h("a", { class: "btn btn-secondary", href: urls.board }, icon("list-check"), gettext(" Shop pages")),
      languageButtons(person),
      all.length ? button("lock", gettext("Lock, or change person"), lock) : "",
      person
        ? button("unlock", hasPin ? gettext("Change PIN") : gettext("Set a PIN"), () => askForPin(person))
        : "",
      person ? button("box-arrow-right", gettext("Sign out"), leave) : signInLink(),
    ),
    person ? nameRow(named) : "",
  );
}

const button = (shape, words, onclick) =>
  h("button", { class: "btn btn-secondary", type: "button", onclick }, icon(shape), ` ${words}`);

// One tap turns the tablet to another language; kept for this person.
const languageButtons = (person) =>
  Object.entries(LANGUAGES)
    .filter(([name]) => name !== language)
    .map(([name, words]) =>
      h(
        "button",
        {
          class: "btn btn-secondary",
          type: "button",
          lang: name,
          "data-key": `language-${name}`,
          onclick: () => choose(name, person),
        },
        words,
      ),
    );

function signInLink() {
  const onclick = () => metaPut("leave_when_online", false);
  const facts = { class: "btn btn-secondary", href: `${urls.sign_in}?next=/tablet/`, onclick };
  return h("a", facts, icon("person"), gettext(" Sign in"));
}

function nameRow(named) {
  const input = h("input", {
    id: "tablet-name",
    type: "text",
    maxlength: "40",
    autocomplete: "off",
    value: named ?? "",
    placeholder: deviceName(),
  });
  const says = h("p", { class: "field-says", role: "status" });
  const save = async () => {
    try {
      const { csrf } = await greet();
      const body = { device: await deviceId(), name: input.value };
      const answer = await ask(urls.name, { method: "POST", csrf, body });
      if (!answer.ok) throw new Error(answer.data.error);
      await metaPut("device_name", answer.data.name);
      says.textContent = gettext("The tablet has this name now.");
      tell(gettext("Name saved"));
    } catch (problem) {
      says.textContent = interpolate(gettext("Not named, this needs a network: {message}"), {
        message: problem.message || gettext("no answer"),
      });
    }
  };
  return h(
    "div",
    {},
    h("label", { class: "input-label", for: input.id }, gettext("Name of this tablet, for the office")),
    h("div", { class: "word-row" }, input, button("pencil", gettext("Save name"), save)),
    says,
  );
}
