// The order of the work: each tablet's events in its own sequence, several tablets by their clocks put right;
// the same as `places` of checklists/rules/work_order.py. `offset` puts this tablet's clock right. [ms]

// Return a Map of event id → its place in the work.
export function places(events, offset = 0) {
  const bySource = new Map();
  for (const event of events) {
    if (!event.step) continue;
    const source = event.from === undefined ? (event.device ?? "") : (event.from ?? "");
    if (!bySource.has(source)) bySource.set(source, []);
    bySource.get(source).push({ event, source, at: byClock(event, offset) });
  }
  const lined = [...bySource.values()].flatMap(ownOrder);
  lined.sort((a, b) => a.moment - b.moment || compare(a.source, b.source) || a.place - b.place);
  return new Map(lined.map(({ event }, place) => [event.id, place]));
}

// When it was done: nothing is done after it was received, whatever a clock says.
function byClock({ done_at, at, received_at }, offset) {
  const done = done_at ? Date.parse(done_at) : at ? Date.parse(at) + offset : Infinity;
  return received_at ? Math.min(done, Date.parse(received_at)) : done;
}

// One tablet's records in its own sequence, each no earlier than the one before it.
function ownOrder(own) {
  const hasCount = ({ event }) => Number((event.sequence ?? null) !== null);
  own.sort(
    (a, b) =>
      hasCount(a) - hasCount(b) ||
      (a.event.sequence ?? 0) - (b.event.sequence ?? 0) ||
      compare(a.at, b.at) ||
      compare(a.event.serial ?? Infinity, b.event.serial ?? Infinity),
  );
  let latest = -Infinity;
  return own.map((each, place) => {
    latest = Math.max(latest, each.at);
    return { ...each, moment: latest, place };
  });
}

const compare = (one, other) => (one < other ? -1 : one > other ? 1 : 0);
