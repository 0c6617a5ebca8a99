// Knows what keeps a hold point shut, in words, and which phases are locked because of it; the same as
// checklists/rules/holds.py, and a test holds the two together. ctx: { job, state, whole, signedParts }.
import { asBuiltProblem, deviationsNow } from "./as_built.js";
import { fieldOf, isOpen, judgeStep, plain, specsOf } from "./judging.js";
import { alikeSentences } from "./readings.js";
import { sealCount } from "./seals.js";
import { stepAt, valueAt } from "./steps.js";
import { fixed } from "./words.js";

const ENERGISE = "J"; // from this phase on every earlier hold must have passed
const REST_SPREAD_V = 0.05;

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
    this.known = new Map();
    this.marks = ctx.marks ?? new Map();
    this.deviations = ctx.deviations ?? deviationsNow(this.job, ctx.state);
    this.extra = this.extras();
  }

  ofPhase(letter) {
    return this.inScope.filter((step) => step.phase === letter);
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
      J5: [...(problem ? [`Values as built: ${problem}`] : []), ...unknown],
      K14: alikeSentences(this.ctx),
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
    if (letter >= ENERGISE) {
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
    for (const sentence of this.extra[hold.code] ?? []) yield item(hold, sentence);
    if (hold.code in EXTRA) yield* EXTRA[hold.code](this, hold);
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
      const isHere = hold.code === "J5" || step?.phase === hold.phase;
      if (deviation.blocks && isHere) yield item(step ?? hold, deviation.sentence, deviation.can_be_accepted);
    }
  }

  *go(hold) {
    for (const step of this.inScope) {
      if (step.is_hold && step.phase < hold.phase && !this.ofStep(step).isPassed) {
        yield item(step, `${step.title}: this hold has not passed`, false);
      }
    }
    for (const letter of this.letters.filter((each) => each < hold.phase && !this.holdOf(each))) {
      for (const step of this.ofPhase(letter)) yield* this.openFields(step);
    }
    yield* this.secondPerson();
  }

  *secondPerson() {
    const step = stepAt(this.job, "J1");
    const name = valueAt(this.job, this.ctx.state, "J1", "second_person");
    if (!step || !name) return;
    const did = this.inScope
      .filter((each) => "FGH".includes(each.phase))
      .flatMap((each) => this.byNames(each));
    const hands = new Set(did.map((person) => person.toLowerCase()));
    if (hands.size === 1 && hands.has(String(name).trim().toLowerCase())) {
      yield item(step, `${name} did the work: somebody else looks it over`);
    }
  }

  byNames(step) {
    const fields = Object.values(this.own(step)?.fields ?? {});
    return fields.flatMap((field) => field.standing.map((event) => event.by_name)).filter(Boolean);
  }

  *counts(hold) {
    for (const sentence of sealCount(this.job, this.ctx.state).sentences) yield item(hold, sentence);
  }

  *serials(hold) {
    const seen = new Map();
    for (const step of this.inScope) {
      for (const spec of specsOf(this.job, this.ctx.state, step)) {
        const { value } = fieldOf(this.own(step), spec.name);
        if (spec.kind !== "serial" || !value || step.phase > hold.phase) continue;
        const first = seen.get(plain(value));
        if (first && first.code === step.code && hold.phase === step.phase) {
          yield item(step, `Serial ${value} is also recorded at “${first.title}”`);
        }
        if (!first) seen.set(plain(value), step);
      }
    }
  }

  *battery(hold) {
    const steps = this.inScope.filter((step) => step.code === "G1");
    const known = steps
      .map((step) => fieldOf(this.own(step), "rest_v").value)
      .filter((value) => value !== null);
    const spread = Math.max(...known) - Math.min(...known);
    if (known.length > 1 && spread > REST_SPREAD_V + 1e-9) {
      yield item(steps[0], `Batteries rest ${fixed(spread, 2)} V apart; join them only within 0.05 V`);
    }
    yield* this.serials(hold);
  }

  *signatures(hold) {
    for (const part of this.requiredSignatures()) {
      if (!this.ctx.signedParts.includes(part)) yield item(hold, `${PART_WORDS[part]} has not signed`, false);
    }
  }

  // Return whose signatures the sheet needs; the owner's only where something was let pass.
  requiredSignatures() {
    const isLicensed = this.inScope.some((step) => step.code === "H8");
    const isLetStand = this.deviations.some((each) => each.state === "accepted");
    const others = this.inScope.filter((step) => step.is_hold && step.code !== "M7");
    const isOverridden = others.some((step) => this.ofStep(step).covered.length);
    return [
      "technician",
      ...(isLicensed ? ["licensed"] : []),
      ...(isLetStand || isOverridden ? ["owner"] : []),
      "customer",
    ];
  }
}

const item = (step, sentence, canBeOverridden = true) => ({ step, sentence, canBeOverridden });

// The first shut hold by name, the others by number.
function shutWords(shut) {
  if (!shut.length) return [];
  const first = `${shut[0].step.code} ${shut[0].step.title} has not passed`;
  return shut.length === 1
    ? [first]
    : [
        first,
        `nor have ${shut
          .slice(1)
          .map((hold) => hold.step.code)
          .join(", ")}`,
      ];
}

const PART_WORDS = {
  technician: "The technician",
  owner: "The owner",
  licensed: "The licensed person",
  customer: "The customer",
};
const EXTRA = {
  D12: (holds, hold) => holds.counts(hold),
  E10: (holds, hold) => holds.serials(hold),
  G12: (holds, hold) => holds.battery(hold),
  J5: (holds, hold) => holds.go(hold),
  M7: (holds, hold) => holds.signatures(hold),
};
