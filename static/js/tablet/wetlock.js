// Ignores drops and sleeves: the whole screen is dead until two fixed places are tapped one after the other.
import { h, icon, tell } from "./dom.js";
import { gettext } from "./language.js";

const PATIENCE_MS = 6000;

let shut;

export function wetLock() {
  if (shut?.open) return;
  let first = 0;
  const words = h("p", { class: "lock-words" }, gettext("Locked. Tap 1, then 2."));
  const say = (text) => {
    words.textContent = text;
    tell(text);
  };
  const one = h(
    "button",
    {
      type: "button",
      class: "lock-key lock-one",
      onclick: () => {
        first = Date.now();
        shut.classList.add("lock-half");
        say("Now tap 2.");
      },
    },
    "1",
  );
  const two = h(
    "button",
    {
      type: "button",
      class: "lock-key lock-two",
      onclick: () => {
        if (first && Date.now() - first < PATIENCE_MS) {
          open();
          return;
        }
        first = 0;
        shut.classList.remove("lock-half");
        say("Tap 1 first, then 2.");
      },
    },
    "2",
  );
  shut = h(
    "dialog",
    { class: "wet-lock", closedby: "none", "aria-label": gettext("Screen locked") },
    one,
    h("div", { class: "lock-middle" }, icon("lock"), words),
    two,
  );
  // Escape is a stray touch too
  for (const kind of ["keydown", "cancel"]) shut.addEventListener(kind, noEscape);
  shut.addEventListener("click", (event) => {
    if (event.target.closest(".lock-key")) return;
    first = 0; // a drop anywhere begins the count anew
    shut.classList.remove("lock-half");
    words.textContent = "Locked. Tap 1, then 2.";
  });
  shut.addEventListener("close", () => {
    if (shut?.isConnected) shut.showModal();
  }); // a browser may close it at a second wish all the same
  sessionStorage.setItem("wet", "1");
  document.body.append(shut);
  shut.showModal();
}

function noEscape(event) {
  if (event.type === "cancel" || event.key === "Escape") event.preventDefault();
}

function open() {
  sessionStorage.removeItem("wet");
  shut.remove();
  shut = undefined;
}

export function wetLockAgain() {
  if (sessionStorage.getItem("wet")) wetLock();
}
