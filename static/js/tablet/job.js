// One job as it stands on this tablet: what was taken along, every event known of it, and what follows from both.
import { database } from "./db.js";
import { fieldsOf } from "./fields.js";
import { EMPTY, reduceEvents, sinceDesign } from "./reducer.js";
import { deviationsOf, judged, locksOf } from "./rules.js";
import { shown } from "./units.js";

export class JobView {
  constructor(row, events, person) {
    this.row = row;
    this.job = { ...row.payload, role: person?.role ?? "" };
    this.person = person;
    this.events = new Map(events.map((event) => [event.id, event]));
    this.stepByPk = new Map(this.job.steps.map((step) => [step.pk, step]));
    this.inScope = this.job.steps.filter((step) => step.is_in_scope);
    this.forget();
  }

  get pk() { return this.row.pk; }

  forget() {
    this.known = new Map();
    this.reduced = undefined;
    this.counted = undefined;
    this.lockWords = undefined;
    this.moved = undefined;
  }

  since(step) { return this.row.since_design?.[step.pk] ?? step.since_design ?? 0; }

  get whole() {
    this.reduced ??= reduceEvents(this.events.values());
    return this.reduced;
  }

  // Work done against an earlier revision stays on record but does not count at a step that was opened again.
  get states() {
    this.counted ??= new Map([...this.whole].map(([pk, state]) => {
      const step = this.stepByPk.get(pk);
      return [pk, step && this.since(step) ? sinceDesign(state, this.since(step)) : state];
    }));
    return this.counted;
  }

  state(step) { return this.states.get(step.pk) ?? EMPTY; }
  fields(step) { return fieldsOf(this.job, this.states, step); }

  mark(step) {
    if (!this.known.has(step.pk)) this.known.set(step.pk, judged(this, step));
    return this.known.get(step.pk);
  }

  // The job as it would be with one more event, before that is recorded.
  with(event) { return new JobView(this.row, [...this.events.values(), event], this.person); }

  // What is not as planned: of one step, or of the whole job.
  deviations(step) {
    this.moved ??= deviationsOf(this);
    return step ? this.moved.filter((one) => one.steps.includes(step.pk)) : this.moved;
  }

  // A recorded value in words, in the shop's units.
  say(spec, event) {
    if (event.photo) return "photo";
    const { value } = event;
    if (spec?.choices?.length) return spec.choices.find(([key]) => key === value)?.[1] ?? String(value);
    if (typeof value === "boolean") return value ? "done" : "no";
    return typeof value === "number" ? shown(this.job, value, spec?.unit ?? event.unit) : String(value ?? "");
  }

  locks(letter) {
    this.lockWords ??= locksOf(this);
    return this.lockWords[letter] ?? [];
  }

  ofPhase(letter) { return this.inScope.filter((step) => step.phase === letter); }

  neighbour(step, way) { return this.inScope[this.inScope.indexOf(step) + way]; }

  nextOpen(after) {
    const start = after ? this.inScope.indexOf(after) + 1 : 0;
    const order = [...this.inScope.slice(start), ...this.inScope.slice(0, start)];
    return order.find((step) => step !== after && !this.mark(step).isDone && !this.locks(step.phase).length);
  }

  isReopened(step) {
    if (!this.since(step)) return false;
    const now = this.state(step).fields;
    const isOutdated = Object.entries(this.whole.get(step.pk)?.fields ?? {}).some(([name, own]) => own.standing.length && !now[name].standing.length);
    return isOutdated && !this.mark(step).isDone;
  }
}

export async function openJob(pk) {
  const db = await database();
  const tx = db.transaction(["jobs", "events", "meta"]);
  const [row, events, person] = await Promise.all([
    tx.objectStore("jobs").get(pk),
    tx.objectStore("events").index("job").getAll(pk),
    tx.objectStore("meta").get("person"),
  ]);
  return row ? new JobView(row, events, person) : undefined;
}

export async function keptJobs() {
  return (await database()).getAll("jobs");
}
