// The survey's pages with script: rows are added and taken away in place, blanks filled without a round trip.
// Loaded before forms.js, so that rows it kept text for are there again when it puts the text back.

const DATA = JSON.parse(document.getElementById("survey-data")?.textContent ?? "null");
const form = document.getElementById("survey-form");
const ZERO = "0".repeat(32);

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function addRow(prefix, key = newKey()) {
  const holder = document.createElement("template");
  holder.innerHTML = document.querySelector(`template[data-row="${prefix}"]`).innerHTML.replaceAll(ZERO, key);
  const row = holder.content.querySelector("[data-row-slip]");
  const rows = document.querySelector(`[data-rows="${prefix}"]`);
  rows.querySelector(".empty")?.remove();
  rows.append(row);
  globalThis.htmx?.process(row);
  enhanceRow(row);
  return row;
}

/** Put [name, text] pairs, as a browser would send them, into a new row. */
function addFilledRow(prefix, pairs) {
  const key = newKey();
  const row = addRow(prefix, key);
  const sample = pairs[0][1];
  for (const box of row.querySelectorAll("input[type=checkbox]")) box.checked = false;
  for (const [name, text] of pairs.slice(1)) setField(row, name.replace(sample, key), text);
  row.dataset.kind = row.querySelector("[name$='-kind']")?.value ?? "";
  return row;
}

function setField(scope, name, text) {
  const fields = [...scope.querySelectorAll(`[name="${CSS.escape(name)}"]`)];
  for (const field of fields) {
    if (field.type === "checkbox") field.checked = field.checked || text === "on" || field.value === text;
    else field.value = text;
  }
}

function changed() {
  form.dispatchEvent(new Event("input", { bubbles: true }));
  for (const field of form.querySelectorAll("input, select")) {
    field.dispatchEvent(new Event("input", { bubbles: true }));
    break;
  }
}

function isBlank(row) {
  return [...row.querySelectorAll("input, select, textarea")].every((field) => {
    if (field.type === "hidden") return true;
    if (field.type === "checkbox") return field.checked === field.defaultChecked;
    if (field.tagName === "SELECT") {
      const start = [...field.options].find((option) => option.defaultSelected) ?? field.options[0];
      return field.value === (start?.value ?? "");
    }
    return field.value === field.defaultValue;
  });
}

function lastIsBlank(prefix) {
  const rows = document.querySelectorAll(`[data-rows="${prefix}"] [data-row-slip]`);
  const last = rows[rows.length - 1];
  return last && !last.dataset.stored && isBlank(last) ? last : null;
}

function onAdd(button) {
  const prefix = button.dataset.add;
  const isChosen = button.value.endsWith(":chosen");
  const code = document.getElementById(`add-code-${prefix}`)?.value;
  const pairs = isChosen ? DATA.add[`${prefix}:${code}`] : null;
  const spare = lastIsBlank(prefix);
  const row = pairs ? addFilledRow(prefix, pairs) : (spare ?? addRow(prefix));
  if (pairs && spare) spare.before(row);
  row.querySelector(".row-main input:not([type=hidden]), .row-main select")?.focus();
  changed();
}

function onStart(button) {
  const prefix = button.dataset.start;
  const spare = lastIsBlank(prefix);
  for (const pairs of DATA.start[prefix]) {
    const row = addFilledRow(prefix, pairs);
    if (spare) spare.before(row);
  }
  const mark = form.querySelector(`[name="guess_${prefix}"]`);
  if (mark) mark.checked = true;
  button.disabled = true; // once: a second press would double every row
  changed();
}

function onUsual() {
  for (const [name, texts] of Object.entries(DATA.usual)) {
    const fields = [...form.querySelectorAll(`[name="${name}"]`)];
    if (!fields.length || !["", "unknown"].includes(fields[0].value)) continue;
    for (const text of texts) setField(form, name, text);
    const mark = form.querySelector(`[name="guess_${name}"]`);
    if (mark) mark.checked = true;
    fields[0].closest(".fact")?.classList.add("fact-filled");
  }
  changed();
}

/** With script the box becomes a button; the row can be taken back until it is saved. */
function enhanceRow(row) {
  const label = row.querySelector("label.remove");
  const box = label?.querySelector("input");
  if (!box || row.querySelector(".remove-button")) return;
  const name = row.querySelector("legend")?.textContent.trim();
  const button = document.createElement("button");
  button.type = "button";
  button.className = "btn btn-secondary btn-sm remove-button";
  const show = () => {
    button.textContent = box.checked ? "Keep" : "Remove";
    button.setAttribute("aria-label", `${button.textContent} ${name}`);
    row.classList.toggle("row-removed", box.checked);
  };
  button.addEventListener("click", () => {
    box.checked = !box.checked;
    box.dispatchEvent(new Event("change", { bubbles: true }));
  });
  box.addEventListener("change", show);
  label.hidden = true;
  label.after(button);
  show();
  const kind = row.querySelector("select[name$='-kind']");
  kind?.addEventListener("change", () => (row.dataset.kind = kind.value));
}

/** Make the rows again that text was kept for, in their old order, so that forms.js finds them. */
function remakeKeptRows() {
  for (const name of Object.keys(sessionStorage)) {
    if (!name.startsWith(`kept:${location.pathname}|`)) continue;
    const passed = new Set();
    for (const [, field] of JSON.parse(sessionStorage.getItem(name)).typed ?? []) {
      const [, prefix, key] = field.match(/^([a-z_]+)-([0-9a-f]{32})-/) ?? [];
      if (!key || !document.querySelector(`template[data-row="${prefix}"]`)) continue;
      const spare = lastIsBlank(prefix);
      if (!form.querySelector(`[name="${prefix}-key"][value="${key}"]`)) {
        const row = addRow(prefix, key);
        if (spare && !passed.has(spare)) spare.before(row);
      }
      passed.add(form.querySelector(`[name="${prefix}-key"][value="${key}"]`).closest("[data-row-slip]"));
    }
  }
}

if (form && DATA) {
  document.documentElement.classList.add("scripted");
  for (const row of form.querySelectorAll("[data-row-slip]")) enhanceRow(row);
  remakeKeptRows();
  form.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (button?.type !== "submit") return;
    const act = [
      ["add", onAdd],
      ["start", onStart],
      ["usual", onUsual],
    ].find(([name]) => name in button.dataset);
    if (!act) return;
    event.preventDefault();
    act[1](button);
  });
  // What forms.js put back shows in the live part too; htmx begins to listen shortly after load.
  const wasKept = () => Object.keys(sessionStorage).some((name) => name.startsWith("kept:"));
  addEventListener("load", () => setTimeout(() => wasKept() && changed(), 500));
  let isSending = false;
  form.addEventListener("submit", () => (isSending = true));
  addEventListener("pageshow", () => (isSending = false));
  // The answer to a refused save holds what was typed as if it were stored: leaving must still warn.
  addEventListener("beforeunload", (event) => {
    if ("unsaved" in form.dataset && !isSending) event.preventDefault();
  });
}
