// The buttons over the roof, the menu of more of them, and the keys that undo from anywhere on the page.

import { by } from "./dom.js";

// Fields with steps back of their own.
const TYPED = "input:not([type=checkbox], [type=radio], [type=range], [type=file]), textarea";

export function watchToolbar(desk) {
  const { panels } = desk;
  const acts = {
    ...panels.acts,
    undo: () => desk.steps.undo(),
    redo: () => desk.steps.redo(),
    closer: () => desk.look("closer"),
    farther: () => desk.look("farther"),
    whole: () => desk.look("whole"),
  };
  for (const button of document.querySelectorAll("[data-do]")) {
    button.addEventListener("click", () => {
      acts[button.dataset.do]();
      panels.choosing();
      panels.say();
    });
  }
  watchMenu(document.querySelector(".ws-more"));
  watchKeys(desk);
}

// The menu stays open for several presses in a row; it closes where the pointer or the focus goes elsewhere.
function watchMenu(menu) {
  const elsewhere = (event) => {
    if (!menu.contains(event.target)) menu.open = false;
  };
  document.addEventListener("pointerdown", elsewhere);
  document.addEventListener("focusin", elsewhere);
  menu.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !menu.open) return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });
}

function watchKeys(desk) {
  by("ws-stage").addEventListener("keydown", (event) => {
    if (desk.tool.key(event)) event.preventDefault();
  });
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches(TYPED)) return;
    const act = stepOf(event);
    if (!act) return;
    event.preventDefault();
    desk.steps[act]();
    desk.panels.say();
  });
}

function stepOf(event) {
  const key = event.key.toLowerCase();
  if (key === "z") return event.shiftKey ? "redo" : "undo";
  return key === "y" ? "redo" : null;
}
