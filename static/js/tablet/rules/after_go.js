// Wiring that was recorded again after the Go it was given for; the same as checklists/rules/after_go.py, and
// a test holds the two together. `order` is a Map of event id → its place in the work (work_order.js).

import { fieldFrom } from "./reducer.js";

// Return [{ step, event, given }]: the newest change since the Go at each step it rests on (its `rests`).
export function changesAfter(job, state, order) {
  const go = goOf(job);
  const fields = (go && state.get(go.pk)?.fields) ?? {};
  const ticks = namesOf(go)
    .flatMap((name) => fields[name]?.standing ?? [])
    .filter((event) => order.has(event.id));
  if (!ticks.length) return [];
  const given = newest(ticks, order);
  const isLater = isAfter(order.get(given.id), order);
  return restsOn(job, go)
    .map((step) => ({ step, after: changes(step, state).filter(isLater) }))
    .filter(({ after }) => after.length)
    .map(({ step, after }) => ({
      step,
      event: newest(
        after.map(([, event]) => event),
        order,
      ),
      given,
    }));
}

const goOf = (job) => job.steps.find((step) => step.is_in_scope && step.role === "go");
const restsOn = (job, go) => job.steps.filter((step) => go.rests?.includes(step.pk));
const namesOf = (go) =>
  (go?.fields ?? []).filter((spec) => spec.kind === "tick" && !spec.repeat).map((spec) => spec.name);
const newest = (events, order) =>
  events.reduce((best, one) => (order.get(one.id) > order.get(best.id) ? one : best));

// Each value that stands, twice, and each that was taken back, with its undo.
function changes(step, state) {
  const own = state.get(step.pk);
  if (!own) return [];
  const isQuiet = (name) =>
    step.fields.some((spec) => spec.name === name && ["photo", "signature"].includes(spec.kind));
  const stands = Object.entries(own.fields).flatMap(([name, field]) =>
    field.standing.map((event) => [event, event, name]),
  );
  const taken = (own.takenBack ?? []).map(([was, undo]) => [was, undo, was.field]);
  return [...stands, ...taken].filter(([was, , name]) => !was.photo && !isQuiet(name));
}

// Whether something is other than it was at this place of the work; what came and went since is not.
const isAfter =
  (place, order) =>
  ([was, event]) => {
    const at = order.get(event.id) ?? -1;
    return at > place && (was === event || (order.get(was.id) ?? -1) <= place);
  };

// What stands at each step, without what was ticked at the Go and no longer counts: the Go once its wiring
// was changed, a circuit accepted with a caution once a value was that its sums are worked out from.
export function withoutStale(job, state, order) {
  const go = goOf(job);
  const own = go && state.get(go.pk);
  if (!own || !order.size) return state;
  const rests = restsOn(job, go).map((step) => ({ step, all: changes(step, state) }));
  const wired = rests.flatMap(({ all }) => all);
  const fed = rests.flatMap(({ step, all }) => all.filter(([, , name]) => feeds(step, name)));
  const names = namesOf(go);
  const fields = {};
  for (const [name, field] of Object.entries(own.fields)) {
    const known = names.includes(name) ? wired : fed;
    const counts = (event) => !order.has(event.id) || !known.some(isAfter(order.get(event.id), order));
    fields[name] = fieldFrom(field.standing.filter(counts), field.redoCount);
  }
  return new Map(state).set(go.pk, { ...own, fields });
}

const feeds = (step, name) => step.fields.some((spec) => spec.name === name && spec.feeds);

// What was done when, by whom, and what it asks for; times in this zone.
export function changeSentence({ step, event, given }, zone = "UTC") {
  const verb = event.verb === "undo" ? "taken back" : "recorded again";
  const by = event.by_name ? ` by ${event.by_name}` : "";
  return `${step.title} was ${verb} after Go${when(event, given, zone)}${by}: check and give Go again`;
}

// The time of day, with the day where it is another than that of the Go.
function when(event, given, zone) {
  const [at, before] = [event, given].map((each) => each.done_at ?? each.at ?? each.received_at);
  if (!at) return "";
  const day = (time) =>
    new Intl.DateTimeFormat("en-US", { timeZone: zone, year: "numeric", month: "short", day: "numeric" })
      .format(new Date(time))
      .split(",");
  const clock = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  });
  const isOneDay = before && String(day(before)) === String(day(at));
  return `${isOneDay ? "" : ` on ${day(at)[0]}`} at ${clock.format(new Date(at))}`;
}
