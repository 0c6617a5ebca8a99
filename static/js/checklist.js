// The step page, made quicker: a keypad under the number being typed, a warning while it is out of band,
// photos sent as soon as they are taken. Everything works without this file. (A second tap is swallowed by
// forms.js.)

const KEYS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "⌫", "−"];

function type(input, key) {
  const start = input.selectionStart ?? input.value.length;
  const end = input.selectionEnd ?? start;
  if (key === "⌫") {
    const from = start === end ? Math.max(0, start - 1) : start;
    input.setRangeText("", from, end, "end");
  } else if (key === "−") {
    input.value = input.value.startsWith("-") ? input.value.slice(1) : `-${input.value}`;
  } else {
    input.setRangeText(key, start, end, "end");
  }
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

function padFor(input) {
  const pad = document.createElement("div");
  pad.className = "pad";
  pad.setAttribute("role", "group");
  pad.setAttribute("aria-label", "Number pad");
  for (const key of KEYS) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = key;
    button.setAttribute("aria-label", { "⌫": "Delete last", "−": "Change sign", ".": "Point" }[key] ?? key);
    button.addEventListener("pointerdown", (event) => event.preventDefault()); // keeps the field in focus
    button.addEventListener("click", () => type(input, key));
    pad.append(button);
  }
  return pad;
}

function openPad(input) {
  const row = input.closest(".input-row");
  document.querySelectorAll(".pad").forEach((pad) => {
    if (!row?.contains(pad)) pad.remove();
  });
  if (row && !row.querySelector(".pad")) row.append(padFor(input));
}

function warn(input) {
  const row = input.closest(".input-row");
  if (!row) return;
  const { low, high } = row.dataset;
  const value = Number(input.value.replace(",", ".").replace(/\s*[^\d.-]+$/, ""));
  const isOut =
    input.value.trim() !== "" &&
    Number.isFinite(value) &&
    ((low !== undefined && value < Number(low)) || (high !== undefined && value > Number(high)));
  let line = row.querySelector(".input-warn");
  if (!isOut) {
    line?.remove();
    return;
  }
  if (!line) {
    line = document.createElement("p");
    line.className = "input-warn";
    line.setAttribute("role", "status");
    input.after(line);
  }
  line.textContent = "Outside the accepted band. Read again before saving.";
}

const isTouch = matchMedia("(pointer: coarse)").matches;
for (const input of document.querySelectorAll("input[data-pad]")) {
  if (isTouch && input.getAttribute("inputmode") === "decimal") {
    input.setAttribute("inputmode", "none");
    input.addEventListener("focus", () => openPad(input));
  }
  input.addEventListener("input", () => warn(input));
}

for (const form of document.querySelectorAll(".step-form, .sign-form")) {
  form.addEventListener("submit", (event) => {
    if (event.submitter?.classList.contains("tick")) event.submitter.setAttribute("aria-disabled", "true");
  });
  form.querySelectorAll("input[type=file][data-send]").forEach((input) => {
    input.addEventListener("change", () => {
      if (input.files.length) form.requestSubmit(form.querySelector(".step-end .btn-secondary"));
    });
  });
}
