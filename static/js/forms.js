// Nothing typed is lost: warns before leaving a changed form and keeps its text for this tab until it is
// sent.
//
// A post form is watched unless it carries data-no-keep. Kept: text, numbers, choices, ticks. Never kept:
// passwords, files, hidden fields. What was kept comes back after reload, back, or a lost network.

const KEEP = "kept:";

function forms() {
  return [...document.forms].filter((form) => form.method === "post" && !("noKeep" in form.dataset));
}

function keyOf(form) {
  const others = forms().filter((other) => actionOf(other) === actionOf(form));
  return `${KEEP}${location.pathname}|${actionOf(form)}|${others.indexOf(form)}`;
}

function actionOf(form) {
  return new URL(form.getAttribute("action") || location.href, location.href).pathname;
}

function fieldsOf(form) {
  return [...form.elements].filter(
    (field) =>
      field.name &&
      !["hidden", "password", "file", "submit", "button"].includes(field.type) &&
      field.tagName !== "BUTTON",
  );
}

function typedIn(field) {
  if (field.type === "checkbox" || field.type === "radio") return field.checked;
  if (field.multiple && field.options)
    return [...field.options].filter((o) => o.selected).map((o) => o.value);
  return field.value;
}

function startOf(field) {
  if (field.type === "checkbox" || field.type === "radio") return field.defaultChecked;
  if (field.options) {
    const chosen = [...field.options]
      .filter((option) => option.defaultSelected)
      .map((option) => option.value);
    return field.multiple ? chosen : (chosen[0] ?? field.options[0]?.value ?? "");
  }
  return field.defaultValue;
}

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
const isDirty = (form) => fieldsOf(form).some((field) => !same(typedIn(field), startOf(field)));
const startText = (form) => JSON.stringify(fieldsOf(form).map((field) => [field.name, startOf(field)]));

function keep(form) {
  const typed = fieldsOf(form).map((field, place) => [place, field.name, typedIn(field)]);
  const changed = fieldsOf(form).map((field) => !same(typedIn(field), startOf(field)));
  const record = { start: startText(form), typed: typed.filter((_, place) => changed[place]) };
  try {
    if (record.typed.length) sessionStorage.setItem(keyOf(form), JSON.stringify(record));
    else sessionStorage.removeItem(keyOf(form));
  } catch {
    // A full or forbidden store must not stop the work; the warning on leaving still stands.
  }
}

function putBack(form, record) {
  const fields = fieldsOf(form);
  for (const [place, name, value] of record.typed) {
    const field = fields[place]?.name === name ? fields[place] : fields.find((one) => one.name === name);
    if (!field) continue;
    if (field.type === "checkbox" || field.type === "radio") field.checked = value;
    else if (field.multiple && field.options)
      for (const option of field.options) option.selected = value.includes(option.value);
    else field.value = value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
}

function tell(form, text, label, action) {
  const note = document.createElement("div");
  note.className = "notice notice-warning";
  note.setAttribute("role", "status");
  const button = document.createElement("button");
  button.type = "button";
  button.className = "btn btn-secondary btn-sm";
  button.textContent = label;
  button.addEventListener("click", () => {
    action();
    note.remove();
  });
  note.append(`${text} `, button);
  form.before(note);
}

function bringBack(form) {
  const key = keyOf(form);
  const kept = sessionStorage.getItem(key);
  if (!kept) return;
  const record = JSON.parse(kept);
  if (record.start === startText(form)) {
    putBack(form, record);
    tell(form, "What you typed here earlier was not saved and has been put back.", "Discard it", () => {
      sessionStorage.removeItem(key);
      form.reset();
    });
  } else {
    tell(
      form,
      "You typed something here earlier that was not saved; the record has changed since.",
      "Put it back",
      () => putBack(form, record),
    );
  }
}

// What was sent has arrived when this page came as its answer: reached from the form, and no sign-in or error
// page. (A page that sends no referrer cannot be told apart; there a fresh page counts as the answer.)
function hasArrived(record) {
  if (performance.getEntriesByType("navigation")[0]?.type !== "navigate") return false;
  return record.isQuiet || document.referrer.startsWith(location.origin + record.path);
}

function settleSent() {
  for (const key of Object.keys(sessionStorage).filter((name) => name.startsWith(KEEP))) {
    const record = JSON.parse(sessionStorage.getItem(key));
    if (!record.isSent) continue;
    if (hasArrived(record) && !("notArrived" in document.body.dataset)) sessionStorage.removeItem(key);
    else sessionStorage.setItem(key, JSON.stringify({ ...record, isSent: false }));
  }
}

function markSent(form) {
  const key = keyOf(form);
  const kept = sessionStorage.getItem(key);
  if (!kept) return;
  const isQuiet = Boolean(document.querySelector('meta[name="referrer"][content="no-referrer"]'));
  sessionStorage.setItem(
    key,
    JSON.stringify({ ...JSON.parse(kept), isSent: true, isQuiet, path: location.pathname }),
  );
}

let leaving = false;

document.addEventListener("input", (event) => {
  const form = event.target.form;
  if (form && forms().includes(form)) keep(form);
});
document.addEventListener("change", (event) => {
  const form = event.target.form;
  if (form && forms().includes(form)) keep(form);
});

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || event.defaultPrevented) return;
  if (form.dataset.sent) {
    event.preventDefault(); // a second press while the first is on its way
    return;
  }
  if (form.matches("[hx-post], [hx-put], [hx-patch]")) return;
  form.dataset.sent = "yes";
  leaving = true;
  if (forms().includes(form)) markSent(form);
});

// A form that saves itself through htmx says so with data-hx-saves; a live preview saves nothing.
document.addEventListener("htmx:after:request", (event) => {
  const form = event.target;
  const status = event.detail?.ctx?.response?.status ?? 0;
  if (form.matches?.("form[data-hx-saves]") && status >= 200 && status < 300)
    sessionStorage.removeItem(keyOf(form));
});

addEventListener("pageshow", () => {
  leaving = false;
  for (const form of document.forms) delete form.dataset.sent;
});

addEventListener("beforeunload", (event) => {
  if (!leaving && forms().some(isDirty)) event.preventDefault();
});

// "Add another row" of a formset: <div data-formset="prefix"> rows … <template data-row> … <button
// data-add-row>
document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-add-row]");
  const set = button?.closest("[data-formset]");
  if (!set) return;
  const total = set.querySelector(`[name="${set.dataset.formset}-TOTAL_FORMS"]`);
  const markup = set.querySelector("template[data-row]").innerHTML.replaceAll("__prefix__", total.value);
  const holder = document.createElement("template");
  holder.innerHTML = markup;
  const first = holder.content.querySelector("input:not([type=hidden]), select, textarea");
  const rows = set.querySelector("[data-rows]");
  rows.append(holder.content);
  total.value = Number(total.value) + 1;
  first?.focus();
});

settleSent();
forms().forEach(bringBack);
document.querySelector("[data-focus]")?.focus();
