// One job as it stands on this tablet: what was downloaded, every event known of it, and what follows from
// both.
import { database, metaGet } from "./db.js";
import { speakIn } from "./dom.js";
import { listen } from "./news.js";
import { changesAfter, withoutStale } from "./rules/after_go.js";
import { EMPTY, reduceEvents, sinceDesign } from "./rules/reducer.js";
import { places } from "./rules/work_order.js";
import { link } from "./sending/link.js";
import { Told, WORDS } from "./told.js";
import { Verdicts } from "./verdicts.js";
import { valueWords } from "./wording.js";

export class JobView {
  constructor(row, events, person) {
    this.row = row;
    const since = row.since_design ?? {};
    const steps = row.payload.steps.map((step) => ({
      ...step,
      since_design: since[step.pk] ?? step.since_design,
    }));
    this.written = { ...row.payload, steps, role: person?.role ?? "" }; // as it is judged and signed for
    this.told = new Told(this.written);
    this.job = this.told.job(this.written); // as it is shown
    this.ownByPk = new Map(steps.map((step) => [step.pk, step]));
    this.person = person;
    this.events = new Map(events.map((event) => [event.id, event]));
    this.stepByPk = new Map(this.job.steps.map((step) => [step.pk, step]));
    this.inScope = this.job.steps.filter((step) => step.is_in_scope);
    this.forget();
  }

  get pk() {
    return this.row.pk;
  }

  isOf(person) {
    return (
      this.person?.id === person?.id &&
      this.person?.role === person?.role &&
      this.person?.name === person?.name
    );
  }

  forget() {
    this.judged = undefined;
    this.reduced = undefined;
    this.counted = undefined;
  }

  // Hours and loads: what belongs to the job and to no step.
  get jobEvents() {
    return [...this.events.values()].filter((event) => !event.step);
  }

  get whole() {
    this.reduced ??= reduceEvents([...this.events.values()].filter((event) => event.step));
    return this.reduced;
  }

  // Work done against an earlier revision stays on record but does not count at a step that was opened again;
  // nor does a Go that was given before its wiring was recorded again.
  get states() {
    this.counted ??= this.countedNow();
    return this.counted;
  }

  countedNow() {
    const onPlan = new Map(
      [...this.whole].map(([pk, state]) => {
        const step = this.stepByPk.get(pk);
        return [pk, step?.since_design ? sinceDesign(state, step.since_design) : state];
      }),
    );
    const { order } = this;
    this.rewired = changesAfter(this.written, onPlan, order);
    return withoutStale(this.written, onPlan, order);
  }

  // Where each event stands in the order of the work; only a Go that was given asks for it.
  get order() {
    const go = this.inScope.find((step) => step.role === "go");
    const isBegun = go && Object.keys(this.whole.get(go.pk)?.fields ?? {}).length > 0;
    return isBegun ? places(this.events.values(), link.offset_ms ?? 0) : new Map();
  }

  state(step) {
    return this.states.get(step.pk) ?? EMPTY;
  }

  get verdicts() {
    this.judged ??= new Verdicts(this.written, this.states, this.whole, this.rewired);
    return this.judged;
  }

  // The step as it was written.
  own(step) {
    return this.ownByPk.get(step.pk) ?? step;
  }

  fields(step) {
    return this.verdicts.fields(this.own(step)).map((spec) => this.told.row(spec));
  }
  mark(step) {
    return this.told.mark(this.verdicts.mark(this.own(step)));
  }
  // Why nothing may be recorded at a step now; empty when it is open.
  locks(step) {
    return this.told.lines(this.verdicts.locks(this.own(step)));
  }
  mustRead(step, day) {
    return this.verdicts.mustRead(this.own(step), this.person?.name ?? "", day);
  }
  phaseLocks(letter) {
    return this.told.lines(this.verdicts.phaseLocks(letter));
  }

  // The job as it would be with more events, before they are recorded.
  with(...events) {
    return new JobView(this.row, [...this.events.values(), ...events], this.person);
  }

  // What is not as planned: of one step, or of the whole job.
  deviations(step) {
    const found = this.verdicts.deviations.filter((one) => one.verdict !== "pass");
    const all = found.map((one) => this.told.sentence(one));
    return step ? all.filter((one) => (one.step_names ?? [one.step]).includes(step.pk)) : all;
  }

  say(spec, event) {
    return valueWords(this.job, spec, event, WORDS);
  }

  ofPhase(letter) {
    return this.inScope.filter((step) => step.phase === letter);
  }

  neighbour(step, way) {
    return this.inScope[this.inScope.indexOf(step) + way];
  }

  nextOpen(after) {
    const start = after ? this.inScope.indexOf(after) + 1 : 0;
    const order = [...this.inScope.slice(start), ...this.inScope.slice(0, start)];
    return order.find((step) => step !== after && !this.mark(step).isDone && !this.locks(step).length);
  }

  isReopened(step) {
    if (!step.since_design) return false;
    const now = this.state(step).fields;
    const isOutdated = Object.entries(this.whole.get(step.pk)?.fields ?? {}).some(
      ([name, own]) => own.standing.length && !now[name].standing.length,
    );
    return isOutdated && !this.mark(step).isDone;
  }
}

// The last job opened stays open: reading it anew takes longer than a tap may. News that this copy does not
// hold end it.
let last;
let news = 0;
listen(({ kind, ids = [] }, isHere) => {
  if (kind === "link") return;
  news += 1;
  const holdsAll = isHere && kind === "recorded" && last && ids.every((id) => last.events.has(id));
  if (!holdsAll) last = undefined;
});

export async function openJob(pk) {
  const person = await metaGet("person");
  if (last?.pk === pk && last.isOf(person)) return last;
  const before = news;
  const view = await readJob(pk);
  if (before === news) last = view;
  return view;
}

async function readJob(pk) {
  const db = await database();
  const tx = db.transaction(["jobs", "events", "meta"]);
  const [row, events, person] = await Promise.all([
    tx.objectStore("jobs").get(pk),
    tx.objectStore("events").index("job").getAll(pk),
    tx.objectStore("meta").get("person"),
  ]);
  if (!row) return undefined;
  speakIn(row.payload.shop.units);
  return new JobView(row, events, person);
}

export async function keptJobs() {
  return (await database()).getAll("jobs");
}
