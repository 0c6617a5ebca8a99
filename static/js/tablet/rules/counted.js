// What a mark becomes by who recorded it, and at a step that does not apply; the same as the last part of
// checklists/rules/judging.py.
import { plain } from "./plain.js";

const LEADS = ["owner", "lead_technician"];
const NOT_HERE = "not_here";
const OPEN = ["conflict", "fail", "missing"];
const LEAD_ONLY = "counts only from a lead technician or the owner";
const SELF_ONLY = "counts only from the person named, signed in";
const SELF = "self"; // how a person named confirms it: signed in

const standing = (own, spec) => own?.fields?.[spec.name]?.standing ?? [];
const isFromLead = (own, spec) => standing(own, spec).some((event) => LEADS.includes(event.by_role));

// Whether the field with a reason excuses a value: some count only from a lead.
export function isExcused(spec, own) {
  const value = own?.fields?.[spec.excused_by]?.value ?? "";
  return value !== "" && (!spec.excused_by_lead || isFromLead(own, { name: spec.excused_by }));
}

// Why a value does not count from whoever recorded it: a lead's word, or the person's own.
export function whose(spec, own) {
  const isSelf = own?.fields?.[spec.name]?.value === SELF;
  if ((spec.lead || (spec.confirms && !isSelf)) && !isFromLead(own, spec)) return LEAD_ONLY;
  if (!spec.confirms || !isSelf) return "";
  const name = plain(own?.fields?.[spec.confirms]?.value ?? "");
  return standing(own, spec).some((event) => plain(event.by_name ?? "") === name) ? "" : SELF_ONLY;
}

// Return a mark as it counts: `licensed` is { name, byLead } of the licensed person, null where anybody may.
export function counted(step, spec, own, mark, licensed) {
  let found = mark;
  const reason = own?.fields?.[NOT_HERE]?.value ?? null;
  if (reason !== null) found = notHere(step, spec, own, found, reason);
  if (step.needs_lead) found = byLead(spec, own, found);
  return step.licensed ? byLicensed(spec, own, found, licensed) : found;
}

// At a step that does not apply nothing is asked; what failed still failed.
function notHere(step, spec, own, found, reason) {
  if (spec.name === NOT_HERE) {
    if (step.na_needs_lead && !isFromLead(own, spec)) return without(`${spec.label}: ${LEAD_ONLY}`);
    const words = spec.choices.find(([key]) => key === reason)?.[1] ?? reason;
    return { ...found, mark: "caution", sentence: `${spec.label}: ${words}` };
  }
  if (spec.name.startsWith(`${NOT_HERE}_`) || !OPEN.includes(found.mark)) return found;
  if (found.mark === "missing" || !standing(own, spec).length)
    return { ...found, mark: "blank", sentence: "", suggestsChangeOrder: false };
  return found;
}

// A tick that only counts from a lead technician or the owner.
function byLead(spec, own, found) {
  if (spec.kind !== "tick" || found.mark !== "ok" || isFromLead(own, spec)) return found;
  return without(`${spec.label}: ${LEAD_ONLY}`);
}

// A value that only counts from the licensed person named, or who records for them.
function byLicensed(spec, own, found, licensed) {
  const events = standing(own, spec);
  if (!events.length || OPEN.includes(found.mark)) return found;
  const name = plain(licensed.name);
  const roles = licensed.byLead ? LEADS : ["owner"];
  const isFrom = (event) => roles.includes(event.by_role) || (name && plain(event.by_name ?? "") === name);
  if (events.some(isFrom)) return found;
  return without(`${spec.label}: counts only from the licensed person or the owner`);
}

const without = (sentence) => ({
  mark: "missing",
  sentence,
  low: null,
  high: null,
  expected: null,
  suggestsChangeOrder: false,
});
