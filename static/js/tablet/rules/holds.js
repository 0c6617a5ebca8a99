// What keeps a hold point shut, in words, and which phases are locked because of it; the same as
// checklists/rules/holds.py, and a test holds the two together. ctx: { job, state, whole, signedParts }.
import { asBuiltProblem, deviationsNow } from "./as_built.js";
import { item, OWN_ITEMS } from "./hold_items.js";
import { isOpen, judgeStep } from "./judging.js";
import { alikeSentences } from "./readings.js";

const ENERGISE = "before_energising"; // from this phase on every earlier hold must have passed

// Return { letter: [why, …] } for every phase of the job; an empty list is an open phase.
export function locks(job, state, ctx = {}) {
  const holds = new Holds({ ...ctx, job, state });
  return Object.fromEntries(holds.letters.map((letter) => [letter, holds.locks(letter)]));
}

export class Holds {
  constructor(ctx) {
    this.ctx = { whole: ctx.state, signedParts: [], ...ctx };
    this.job = ctx.job;
    this.inScope = this.job.steps.filter((step) => step.is_in_scope);
    this.letters = this.job.phases
      .map((phase) => phase.letter)
      .filter((letter) => this.ofPhase(letter).length);
    this.inside = new Set(this.job.phases.filter((phase) => phase.is_inside).map((phase) => phase.letter));
    this.energise = this.job.phases.find((phase) => phase.role === ENERGISE)?.letter;
    this.known = new Map();
    this.marks = ctx.marks ?? new Map();
    this.deviations = ctx.deviations ?? deviationsNow(this.job, ctx.state);
    this.extra = this.extras();
  }

  ofPhase(letter) {
    return this.inScope.filter((step) => step.phase === letter);
  }
  phaseRole(step) {
    return this.job.phases.find((phase) => phase.letter === step.phase)?.role;
  }
  own(step) {
    return this.ctx.state.get(step.pk);
  }

  mark(step) {
    if (!this.marks.has(step.pk)) this.marks.set(step.pk, judgeStep(step, this.own(step), this.ctx));
    return this.marks.get(step.pk);
  }

  extras() {
    const problem = asBuiltProblem(this.job, this.ctx.state);
    const unknown = this.deviations.filter((each) => each.kind === "unknown").map((each) => each.sentence);
    return {
      go: [...(problem ? [`Values as built: ${problem}`] : []), ...unknown],
      readings_pass: alikeSentences(this.ctx),
    };
  }

  // Return the hold that ends a phase; null when the phase has none in scope.
  holdOf(letter) {
    const step = this.ofPhase(letter).find((each) => each.is_hold);
    return step ? this.ofStep(step) : null;
  }

  all() {
    return this.inScope.filter((step) => step.is_hold).map((step) => this.ofStep(step));
  }

  // Return { step, items, covered, isPassed, canBeOverridden } of one hold as it stands.
  ofStep(step) {
    if (!this.known.has(step.code)) this.known.set(step.code, this.evaluated(step));
    return this.known.get(step.code);
  }

  evaluated(step) {
    const overrides = (this.job.overrides ?? []).filter((each) => each.step === step.pk);
    const covers = new Set(overrides.flatMap((each) => each.covers));
    const once = new Map(
      [...this.items(step)].map((item) => [`${item.step.pk} ${item.canBeOverridden} ${item.sentence}`, item]),
    );
    const isCovered = (item) =>
      item.canBeOverridden && covers.has(`${item.step.code} ${item.step.subject}: ${item.sentence}`);
    const items = [...once.values()].filter((item) => !isCovered(item));
    return {
      step,
      items,
      overrides,
      covered: [...once.values()].filter(isCovered),
      isPassed: !items.length,
      canBeOverridden: items.length > 0 && items.every((item) => item.canBeOverridden),
    };
  }

  // Return why a phase is locked; empty when it is open.
  locks(letter) {
    const own = this.changeLocks(letter);
    if (letter >= this.energise) {
      return [...own, ...shutWords(this.all().filter((hold) => hold.step.phase < letter && !hold.isPassed))];
    }
    const gate = this.gate(letter);
    return gate && !gate.isPassed ? [...own, `${gate.step.code} ${gate.step.title} has not passed`] : own;
  }

  changeLocks(letter) {
    return (this.job.waiting_changes ?? [])
      .filter((change) => change.locked_phases.includes(letter))
      .map((change) => `Change order ${change.number} waits for the customer's signature`);
  }

  // The hold before a phase. Work inside goes on past a roof that waits for the customer.
  gate(letter) {
    for (const earlier of this.letters.filter((each) => each < letter).reverse()) {
      if (this.inside.has(letter) && this.changeLocks(earlier).length) continue;
      const hold = this.holdOf(earlier);
      if (hold) return hold;
    }
    return null;
  }

  *items(hold) {
    for (const step of this.ofPhase(hold.phase)) yield* this.openFields(step);
    yield* this.blockingDeviations(hold);
    for (const sentence of this.extra[hold.role] ?? []) yield item(hold, sentence);
    if (hold.role in OWN_ITEMS) yield* OWN_ITEMS[hold.role](this, hold);
  }

  *openFields(step) {
    for (const [name, found] of Object.entries(this.mark(step).fields)) {
      if (isOpen(found.mark))
        yield {
          ...item(step, found.sentence, step.can_be_overridden),
          disputed: found.mark === "conflict" ? name : "",
        };
    }
  }

  // The deviations that block: those of this phase, at the go all of them.
  *blockingDeviations(hold) {
    for (const deviation of this.deviations) {
      const step = this.job.steps.find((each) => each.pk === deviation.step);
      const isHere = hold.role === "go" || step?.phase === hold.phase;
      if (deviation.blocks && isHere) yield item(step ?? hold, deviation.sentence, deviation.can_be_accepted);
    }
  }

  // Return whose signatures the sheet needs; the owner's only where something was let pass.
  requiredSignatures() {
    const isLicensed = this.inScope.some((step) => step.role === "licensed_person");
    const isLetStand = this.deviations.some((each) => each.state === "accepted");
    const others = this.inScope.filter((step) => step.is_hold && step.role !== "sign_off");
    const isOverridden = others.some((step) => this.ofStep(step).covered.length);
    return [
      "technician",
      ...(isLicensed ? ["licensed"] : []),
      ...(isLetStand || isOverridden ? ["owner"] : []),
      "customer",
    ];
  }
}

// The first shut hold by name, the others by number.
function shutWords(shut) {
  if (!shut.length) return [];
  const first = `${shut[0].step.code} ${shut[0].step.title} has not passed`;
  if (shut.length === 1) return [first];
  const others = shut.slice(1).map((hold) => hold.step.code);
  return [first, `nor have ${others.join(", ")}`];
}
