// Asks a plain question with two big answers.
import { h } from "../dom.js";

export function choose(question, { yes, no }) {
  return new Promise((answer) => {
    const dialog = h(
      "dialog",
      { class: "ask", "aria-label": question },
      h("p", { class: "ask-words" }, question),
      h(
        "div",
        { class: "ask-answers" },
        h(
          "button",
          { class: "btn btn-secondary btn-tall", type: "button", onclick: () => dialog.close("no") },
          no,
        ),
        h(
          "button",
          { class: "btn btn-primary btn-tall", type: "button", onclick: () => dialog.close("yes") },
          yes,
        ),
      ),
    );
    dialog.addEventListener("close", () => {
      dialog.remove();
      answer(dialog.returnValue === "yes");
    });
    document.body.append(dialog);
    dialog.showModal();
  });
}
