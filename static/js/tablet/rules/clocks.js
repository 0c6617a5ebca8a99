// Started, stopped and corrected clocks as hours by person and phase; the same as checklists/rules/clocks.py,
// and a test holds the two together. Times are milliseconds; the answer depends on the set of events alone.

export const LONGEST_H = 10; // a clock that ran longer was probably not stopped
const HOUR_MS = 3_600_000;
const CLOCK_VERBS = ["start", "stop", "correct"];

// When a clock event was done: our clock, as the server says it or by the offset measured here.
export const doneAt = (event, offset = 0) =>
  event.done_at ? Date.parse(event.done_at) : Date.parse(event.at) + (event.offset_ms ?? offset ?? 0);

// [{ id, job, who, name, phase, start, end, endedBy, reason, correctedBy, ran }] in order of their start.
export function spansOf(events, offset = 0) {
  const once = new Map([...events].filter((event) => !event.step).map((event) => [event.id, event]));
  const gone = new Set([...once.values()].filter((one) => one.verb === "undo").map((one) => one.undoes));
  const live = [...once.values()]
    .filter((event) => CLOCK_VERBS.includes(event.verb) && !gone.has(event.id))
    .map((event) => ({ ...event, at: doneAt(event, offset) }))
    .sort((one, other) => order(one.at, one.id, other.at, other.id));
  const fixes = corrections(live);
  const stops = firstStops(live);
  const starts = live.filter((event) => event.verb === "start");
  const raw = starts.map((event) => started(event, fixes.get(event.id)));
  const known = new Set(starts.map((event) => event.id));
  const byHand = [...fixes]
    .filter(([id, event]) => !known.has(id) && "who" in event.value)
    .map(([, event]) => written(event));
  return [...raw.map((span) => ended(span, stops.get(span.id), raw)), ...byHand].sort((one, other) =>
    order(one.start, one.id, other.start, other.id),
  );
}

const order = (at, id, otherAt, otherId) => at - otherAt || (id < otherId ? -1 : id > otherId ? 1 : 0);

function corrections(live) {
  const found = new Map();
  for (const event of live)
    if (event.verb === "correct") {
      const id = event.value.start ?? event.id;
      found.delete(id);
      found.set(id, event);
    }
  return found;
}

function firstStops(live) {
  const found = new Map();
  for (const event of live)
    if (event.verb === "stop" && !found.has(event.value.start)) found.set(event.value.start, event.at);
  return found;
}

function started(event, fix) {
  const span = {
    id: event.id,
    job: event.job,
    who: event.value.who,
    name: event.value.name,
    phase: event.field,
    start: event.at,
    end: null,
    endedBy: "",
    reason: "",
    correctedBy: "",
    ran: null,
  };
  return fix ? { ...span, ...byHandOf(fix, event.field), ran: [event.at, null] } : span;
}

// Hours that no clock ran for.
function written(event) {
  const { who, name } = event.value;
  return { id: event.id, job: event.job, who, name, ...byHandOf(event, ""), ran: [null, null] };
}

const byHandOf = (event, phase) => ({
  phase: event.field || phase,
  start: Date.parse(event.value.from),
  end: Date.parse(event.value.to),
  endedBy: "hand",
  reason: event.cause ?? "",
  correctedBy: event.by_name ?? "",
});

// Its stop or the same person's next start, whichever came first.
function ended(span, stopAt, all) {
  const began = span.ran?.[0] ?? span.start;
  const later = all
    .filter((one) => one.id !== span.id && one.who === span.who)
    .filter((one) => order(one.start, one.id, began, span.id) > 0)
    .map((one) => one.start);
  const stop = stopAt === undefined ? [] : [Math.max(stopAt, began)];
  const ends = [...stop, ...later];
  const end = ends.length ? Math.min(...ends) : null;
  if (span.ran) return { ...span, ran: [began, end] };
  return { ...span, end, endedBy: end === null ? "" : end === stop[0] ? "stop" : "next" };
}

export const hoursOf = (span, now) => Math.max(((span.end ?? now) - span.start) / HOUR_MS, 0);

// Whether a person is asked when it really ended: too long, and no hand has looked at it.
export const isAsked = (span, now) => span.endedBy !== "hand" && hoursOf(span, now) > LONGEST_H;

// Each two spans of one person that share time: a hand wrote what no clock can run.
export function overlaps(spans, now) {
  const ordered = [...spans].sort((one, other) => order(one.start, one.id, other.start, other.id));
  return ordered.flatMap((one, place) =>
    ordered
      .slice(place + 1)
      .filter((other) => one.who === other.who && [one.endedBy, other.endedBy].includes("hand"))
      .filter((other) => other.start < (one.end ?? now) && one.start < (other.end ?? now))
      .map((other) => [one, other]),
  );
}
