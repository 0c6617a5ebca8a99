// Finds and makes elements of the page: by id, with text, a verdict's badge, a line that can be picked.

const WORDS = { pass: "Pass", caution: "Caution", block: "Block", not_enough_data: "Not enough data" };
const SIGNS = { pass: "✓", caution: "!", block: "✕", not_enough_data: "?" };

export const by = (id) => document.getElementById(id);

export function element(name, text = "", classes = "") {
  const made = document.createElement(name);
  made.textContent = text;
  if (classes) made.className = classes;
  return made;
}

export function badge(verdict) {
  const made = element("span", "", `verdict verdict-${verdict.replaceAll("_", "-")}`);
  const sign = element("span", SIGNS[verdict]);
  sign.setAttribute("aria-hidden", "true");
  made.append(sign, ` ${WORDS[verdict]}`);
  return made;
}

// A line of a list with a button that chooses what the line names; returns both.
export function pickLine(words, isChosen, onPick) {
  const line = element("li");
  const button = element("button", words, "ws-pick");
  button.type = "button";
  button.setAttribute("aria-pressed", String(isChosen));
  button.addEventListener("click", onPick);
  line.append(button);
  return { line, button };
}
