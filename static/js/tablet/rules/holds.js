// What keeps a hold point shut, in words, and which steps are locked because of it; the same as
// checklists/rules/holds.py, and a test holds the two together. ctx: { job, state, whole, signedParts,
// rewired }.
import { asBuiltProblem, deviationsNow } from "./as_built.js";
import { item, namesAt, OWN_ITEMS } from "./hold_items.js";
import { fieldOf, isNoWorse, isOpen, judgeStep } from "./judging.js";
import { alikeSentences } from "./readings.js";

export class Holds {
  constructor(ctx) {
    this.ctx = { whole: ctx.state, signedParts: [], ...ctx };
    this.job = ctx.job;
    this.inScope = this.job.steps.filter((step) => step.is_in_scope);
    this.letters = this.job.phases
      .map((phase) => phase.letter)
      .filter((letter) => this.ofPhase(letter).length);
    this.inside = new Set(this.job.phases.filter((phase) => phase.is_inside).map((phase) => phase.letter));
    this.byPk = new Map(this.job.steps.map((step) => [step.pk, step]));
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

  all() {
    return this.inScope.filter((step) => step.is_hold).map((step) => this.ofStep(step));
  }

  // Return { step, items, covered, isPassed, canBeOverridden } of one hold as it stands.
  ofStep(step) {
    if (!this.known.has(step.pk)) this.known.set(step.pk, this.evaluated(step));
    return this.known.get(step.pk);
  }

  evaluated(step) {
    const overrides = (this.job.overrides ?? []).filter((each) => each.step === step.pk);
    const covers = new Set(overrides.flatMap((each) => each.covers));
    const once = new Map(
      [...this.strictly(step)].map((one) => [`${one.step.pk} ${one.canBeOverridden} ${one.sentence}`, one]),
    );
    const isCovered = (one) => one.canBeOverridden && isLetPass(one, covers);
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

  isDone(step) {
    return step.is_hold ? this.ofStep(step).isPassed : this.mark(step).isDone;
  }

  // Return why nothing may be recorded at a step now; empty when it is open.
  locks(step) {
    return [
      ...this.changeLocks(step.phase),
      ...shutWords(this.waitedFor(step).filter((each) => !this.isDone(each))),
    ];
  }

  // Return why a phase is locked: what all of its steps that are still to do have in common.
  phaseLocks(letter) {
    const steps = this.ofPhase(letter);
    const open = steps.filter((step) => !this.isDone(step));
    const found = (open.length ? open : steps).map((step) => this.locks(step));
    if (!found.length || found.some((locks) => !locks.length)) return [];
    const common = found[0].filter((words) => found.every((other) => other.includes(words)));
    return common.length ? common : found[0];
  }

  changeLocks(letter) {
    return (this.job.waiting_changes ?? [])
      .filter((change) => change.locked_phases.includes(letter))
      .map((change) => `Change order ${change.number} waits for the customer's signature`);
  }

  // What a step waits for now. Work inside goes on past a roof that waits for the customer.
  waitedFor(step) {
    const needed = (of) => (of.needs ?? []).map((pk) => this.byPk.get(pk));
    if (step.is_strict || !this.inside.has(step.phase)) return needed(step);
    const found = [];
    const seen = new Set();
    const waiting = needed(step);
    while (waiting.length) {
      const each = waiting.shift();
      if (seen.has(each.pk)) continue;
      seen.add(each.pk);
      if (this.changeLocks(each.phase).length) waiting.push(...needed(each));
      else found.push(each);
    }
    return found;
  }

  // What is open; a strict hold lets nothing it looks at pass (first version: only itself), the go no
  // deviation and nobody who has not read the lines: both are mended where they stand.
  *strictly(hold) {
    const isFirst = this.job.safety_ticks;
    for (const one of this.items(hold)) {
      const never = !isFirst && (!hold.can_be_overridden || (one.isOwnMatter && hold.role === "go"));
      yield never ? { ...one, canBeOverridden: false } : one;
    }
  }

  *items(hold) {
    for (const pk of hold.asks ?? []) yield* this.openFields(this.byPk.get(pk));
    yield* this.unread(hold);
    yield* this.blockingDeviations(hold);
    for (const sentence of this.extra[hold.role] ?? []) yield item(hold, sentence);
    if (hold.role in OWN_ITEMS) yield* OWN_ITEMS[hold.role](this, hold);
  }

  // Who recorded in a phase without having read its safety lines there.
  *unread(hold) {
    if (this.job.safety_ticks) return;
    const asked = (hold.asks ?? []).map((pk) => this.byPk.get(pk));
    for (const letter of new Set(asked.map((step) => step.phase))) {
      if (!this.job.phases.find((phase) => phase.letter === letter)?.safety?.length) continue;
      const people = new Set(
        asked.filter((step) => step.phase === letter).flatMap((step) => namesAt(this, step)),
      );
      for (const name of [...people].sort())
        if (!this.hasRead(letter, name))
          yield { ...item(hold, `${name} has not read the safety lines of ${letter}`), isOwnMatter: true };
    }
  }

  // Whether a person has read the safety lines of a phase, on a day ("2026-11-30") or ever.
  hasRead(letter, name, day = "") {
    const own = String(name).trim().toLowerCase();
    return this.ofPhase(letter).some((step) =>
      (this.ctx.whole.get(step.pk)?.acks ?? []).some(
        (event) => String(event.by_name).trim().toLowerCase() === own && (day === "" || event.value === day),
      ),
    );
  }

  *openFields(step) {
    for (const [name, found] of Object.entries(this.mark(step).fields)) {
      if (isOpen(found.mark))
        yield {
          ...item(step, found.sentence, step.can_be_overridden),
          disputed: found.mark === "conflict" ? name : "",
          failed:
            found.mark === "fail" ? { ...found, value: fieldOf(this.own(step), name).value } : undefined,
        };
    }
  }

  // The deviations that block: those of the steps this hold looks at, at the go all of them.
  *blockingDeviations(hold) {
    const asked = new Set(hold.asks ?? []);
    for (const deviation of this.deviations) {
      const step = this.job.steps.find((each) => each.pk === deviation.step);
      const isHere = hold.role === "go" || asked.has(step?.pk);
      if (deviation.blocks && isHere)
        yield { ...item(step ?? hold, deviation.sentence, deviation.can_be_accepted), isOwnMatter: true };
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

// Whether something open was let pass as it stands: its words, and where a value failed this one or a better.
function isLetPass({ step, sentence, failed }, covers) {
  const words = `${step.code} ${step.subject}: ${sentence}`;
  if (!failed) return covers.has(words);
  const told = [...covers].filter((key) => key.startsWith(`${words} [`));
  return told.some((key) => isNoWorse(failed, failed.value, JSON.parse(key.slice(words.length + 2, -1))));
}

// Which steps are waited for, holds first: the first of a kind by name, the others by number.
function shutWords(shut) {
  const words = [];
  for (const [isHold, isNot, nor] of [
    [true, "has not passed", "nor have"],
    [false, "is not done", "nor are"],
  ]) {
    const found = shut.filter((step) => step.is_hold === isHold);
    const codes = [...new Set(found.map((step) => step.code))];
    if (codes.length) words.push(`${codes[0]} ${found[0].title} ${isNot}`);
    if (codes.length > 1) words.push(`${nor} ${codes.slice(1).join(", ")}`);
  }
  return words;
}
