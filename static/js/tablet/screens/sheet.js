// A question over the page: its title, what it asks, and a way to close it.
import { h, icon } from "../dom.js";
import { gettext } from "../language.js";

export function openSheet(title, children, { onClose } = {}) {
  const dialog = h(
    "dialog",
    { class: "ask ask-wide", "aria-label": title },
    h(
      "div",
      { class: "pad-head" },
      h("h2", {}, title),
      h(
        "button",
        { class: "btn btn-secondary", type: "button", onclick: () => dialog.close() },
        icon("x-lg"),
        gettext(" Close"),
      ),
    ),
    children,
  );
  dialog.addEventListener("close", () => {
    dialog.remove();
    onClose?.();
  });
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}
