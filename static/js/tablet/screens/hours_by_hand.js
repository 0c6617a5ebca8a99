// Hours put right by hand: from, to, and why. Both times are kept.
import { h } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { record } from "../record.js";
import { once } from "./field/saving.js";

const MOST_H = 24;
const REASON_LENGTH = 3;

// The time as the input of a browser writes it, in the tablet's own zone.
export function localText(ms) {
  if (ms === null) return "";
  const at = new Date(ms);
  const two = (number) => String(number).padStart(2, "0");
  const day = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
  return `${day}T${two(at.getHours())}:${two(at.getMinutes())}`;
}

// Returns { from, to } as they are kept, or { error }: the same limits as checklists/rules/job_entries.py.
export function timesOf(from, to, reason) {
  const [begun, ended] = [new Date(from), new Date(to)];
  if (Number.isNaN(begun.getTime()) || Number.isNaN(ended.getTime()))
    return { error: gettext("Please say from when to when.") };
  const hours = (ended - begun) / 3_600_000;
  if (hours < 0 || hours > MOST_H)
    return { error: interpolate(gettext("From and to must be 0 to {MOST_H} hours apart."), { MOST_H }) };
  if (reason.trim().length < REASON_LENGTH) return { error: gettext("Please say why it is put right.") };
  return { from: begun.toISOString(), to: ended.toISOString() };
}

// ``span`` is a clock, or a person whose clock nobody started; ``why`` is what the reason begins with.
export function byHand(view, span, why, isOpen = false) {
  const name = span.id ?? "new";
  const from = input(`from-${name}`, "datetime-local", localText(span.start));
  const to = input(`to-${name}`, "datetime-local", localText(span.end));
  const reason = input(`why-${name}`, "text", why);
  const phase = span.id ? null : phaseSelect(view);
  const error = h("p", { class: "field-says", role: "alert" });
  const keep = ({ currentTarget }) => {
    const times = timesOf(from.value, to.value, reason.value);
    error.textContent = times.error ?? "";
    if (!times.error) save(view, span, times, phase?.value ?? span.phase, reason.value.trim(), currentTarget);
  };
  return h(
    "details",
    { class: "change", open: isOpen },
    h(
      "summary",
      { "data-key": `fix-${name}` },
      span.id ? gettext("Put it right") : gettext("Write down hours"),
    ),
    h(
      "div",
      { class: "two" },
      phase ? labeled(gettext("Phase"), phase) : "",
      labeled(gettext("From"), from),
      labeled(gettext("To"), to),
      labeled(gettext("Why"), reason),
    ),
    error,
    h(
      "button",
      { class: "btn btn-primary btn-tall", type: "button", "data-key": `keep-${name}`, onclick: keep },
      gettext("Save the hours"),
    ),
  );
}

const input = (id, type, value) =>
  h("input", {
    id,
    type,
    value,
    class: "form-control",
    maxlength: "400",
    autocomplete: "off",
    "data-key": id,
  });

const labeled = (words, field) =>
  h("div", {}, h("label", { for: field.id, class: "input-label" }, words), field);

function phaseSelect(view) {
  const found = view.job.phases.filter((phase) => view.ofPhase(phase.letter).length);
  return h(
    "select",
    { id: "phase-new", class: "form-select" },
    found.map((phase) => h("option", { value: phase.letter }, `${phase.letter} ${phase.title}`)),
  );
}

function save(view, span, times, phase, reason, control) {
  const whose = span.id ? { start: span.id } : { who: span.who, name: span.name };
  return once(
    `fix-${span.id ?? "new"}`,
    control,
    () =>
      record(view, [
        { step: null, verb: "correct", field: phase, value: { ...whose, ...times }, cause: reason },
      ]),
    interpolate(gettext("{name}: hours put right"), { name: span.name }),
  );
}
