// A note at a step: one tap, and the cursor stands in the field; the keyboard's own dictation does the rest.
import { h, icon, tell } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { note } from "../record.js";
import { NOTE_LENGTH } from "../rules/entries.js";

export const noteButton = (view, step) =>
  h(
    "button",
    { class: "btn btn-secondary", type: "button", "data-key": "note", onclick: () => writeNote(view, step) },
    icon("journal-text"),
    gettext(" Note"),
  );

// What was begun and not kept, by step: a dialog closed by mistake loses nothing.
const begun = new Map();

function writeNote(view, step) {
  const words = h("textarea", { id: "note", maxlength: String(NOTE_LENGTH), rows: "5" });
  words.value = begun.get(step.pk) ?? "";
  const shut = () => dialog.close();
  const keep = async ({ currentTarget }) => {
    if (!words.value.trim()) return words.focus();
    currentTarget.disabled = true;
    await note(view, step, words.value.trim());
    words.value = "";
    shut();
    tell(gettext("Note saved here"));
    return dispatchEvent(new HashChangeEvent("hashchange"));
  };
  const dialog = h(
    "dialog",
    { class: "ask note-ask", "aria-label": interpolate(gettext("Note at {code}"), { code: step.code }) },
    h(
      "label",
      { class: "input-label", for: "note" },
      interpolate(gettext("Note at {code}: kept with this step, never deleted"), { code: step.code }),
    ),
    words,
    h(
      "div",
      { class: "ask-answers" },
      h(
        "button",
        { class: "btn btn-primary btn-tall", type: "button", onclick: keep },
        gettext("Keep the note"),
      ),
      h("button", { class: "btn btn-secondary btn-tall", type: "button", onclick: shut }, gettext("Close")),
    ),
  );
  dialog.addEventListener("close", () => {
    begun.set(step.pk, words.value);
    dialog.remove();
  });
  document.body.append(dialog);
  dialog.showModal();
  words.focus();
}
