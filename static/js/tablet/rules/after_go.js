// Wiring that was recorded again after the Go it was given for; the same as checklists/rules/after_go.py, and
// a test holds the two together. `order` is a Map of event id → its place in the work (work_order.js).

// Return [{ step, event, given }]: the newest change since the Go at each step it rests on (its `rests`).
export function changesAfter(job, state, order) {
  const go = goOf(job);
  const fields = (go && state.get(go.pk)?.fields) ?? {};
  const ticks = namesOf(go)
    .flatMap((name) => fields[name]?.standing ?? [])
    .filter((event) => order.has(event.id));
  if (!ticks.length) return [];
  const given = newest(ticks, order);
  const rests = new Set(go.rests ?? []);
  return job.steps
    .filter((step) => rests.has(step.pk))
    .map((step) => ({ step, own: state.get(step.pk) }))
    .map(({ step, own }) => ({ step, after: own ? [...after(step, own, order, order.get(given.id))] : [] }))
    .filter((each) => each.after.length)
    .map((each) => ({ step: each.step, event: newest(each.after, order), given }));
}

const goOf = (job) => job.steps.find((step) => step.is_in_scope && step.role === "go");
const namesOf = (go) =>
  (go?.fields ?? []).filter((spec) => spec.kind === "tick" && !spec.repeat).map((spec) => spec.name);
const newest = (events, order) =>
  events.reduce((best, one) => (order.get(one.id) > order.get(best.id) ? one : best));

// Values that stand and were recorded later, and undos of values that were there.
function* after(step, own, order, place) {
  const quiet = new Set(
    step.fields.filter((spec) => ["photo", "signature"].includes(spec.kind)).map((spec) => spec.name),
  );
  for (const [name, field] of Object.entries(own.fields)) {
    if (quiet.has(name)) continue;
    for (const event of field.standing) if (!event.photo && (order.get(event.id) ?? -1) > place) yield event;
  }
  for (const [was, undo] of own.takenBack ?? []) {
    if (was.photo || quiet.has(was.field)) continue;
    if ((order.get(was.id) ?? place + 1) <= place && place < (order.get(undo.id) ?? -1)) yield undo;
  }
}

// What stands at each step once the Go has to be given again: its ticks left out.
export function withoutStale(job, state, changes) {
  const go = goOf(job);
  const own = go && state.get(go.pk);
  if (!changes.length || !own) return state;
  const fields = { ...own.fields };
  for (const name of namesOf(go)) {
    if (!fields[name]) continue;
    const { redoCount } = fields[name];
    fields[name] = { standing: [], values: [], value: null, photos: [], isConflict: false, redoCount };
  }
  return new Map(state).set(go.pk, { ...own, fields });
}

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
