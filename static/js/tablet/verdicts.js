// The verdicts on one job as it stands here: marks of steps, holds, locks, deviations, what is still open.
// The rules themselves are in rules/; a view asks only here.

import { asBuiltProblem, deviationsNow, rowAsBuilt } from "./rules/as_built.js";
import { circuitCautions } from "./rules/cautions.js";
import { specsOf } from "./rules/fields.js";
import { Holds } from "./rules/holds.js";
import { conflictWords } from "./rules/judging.js";
import { fieldOf } from "./rules/reducer.js";
import { sealCount } from "./rules/seals.js";
import { valueWords } from "./wording.js";

export class Verdicts {
  constructor(job, states, whole, rewired = []) {
    Object.assign(this, { job, states });
    this.holds = new Holds({ job, state: states, whole, signedParts: [], rewired });
    this.marks = new Map();
  }

  // What a step asks for now: one field per foot as fitted.
  fields(step) {
    return specsOf(this.job, this.states, step).map((spec) => ({
      unit: "",
      choices: [],
      accept: [],
      ...spec,
    }));
  }

  // { mark, isDone, fields: { name: { mark, sentence, low, high, expected } } }, of a hold also holdState and
  // items
  mark(step) {
    if (!this.marks.has(step.pk))
      this.marks.set(step.pk, step.is_hold && step.is_in_scope ? this.hold(step) : this.holds.mark(step));
    return this.marks.get(step.pk);
  }

  hold(step) {
    const found = this.holds.ofStep(step);
    const items = found.items.map((one) => ({
      step: one.step.pk,
      sentence: this.words(one),
      canBeOverridden: one.canBeOverridden,
    }));
    return {
      ...this.holds.mark(step),
      isDone: found.isPassed,
      holdState: !found.isPassed ? "shut" : found.covered.length ? "let" : "passed",
      items,
      overrides: found.overrides,
    };
  }

  // What keeps a hold shut; the values of a dispute in the shop's units, as the server writes them.
  words({ step, sentence, disputed }) {
    if (!disputed) return sentence;
    const spec = this.fields(step).find((one) => one.name === disputed);
    return conflictWords(spec, fieldOf(this.states, step, disputed), (of, value) =>
      valueWords(this.job, of, { value }),
    );
  }

  // Why nothing may be recorded at a step now; empty when it is open.
  locks(step) {
    return step.is_in_scope ? this.holds.locks(step) : [];
  }

  // Whether a person has still to read the safety lines before recording here on this day ("2026-11-30").
  mustRead(step, name, day) {
    const isAsked = step.is_in_scope && step.safety?.length > 0 && !this.job.safety_ticks;
    return isAsked && !this.holds.hasRead(step.phase, name, day);
  }

  phaseLocks(letter) {
    return this.holds.phaseLocks(letter);
  }

  // What is not as planned and not let stand; the office's words where the job came without tables.
  get deviations() {
    return deviationsNow(this.job, this.states).filter((one) => one.state === "open");
  }

  get problem() {
    return asBuiltProblem(this.job, this.states);
  }

  get seals() {
    return this.job.steps.some((step) => step.role === "seal_count" && step.is_in_scope)
      ? sealCount(this.job, this.states)
      : null;
  }

  // A number of a circuit's row as built, null when it is not known here.
  row(circuit, quantity) {
    return this.job.sums ? rowAsBuilt(this.job, this.states, circuit, quantity) : null;
  }

  // What keeps the job from being handed over, each sentence once; the signatures themselves left out.
  get openItems() {
    const found = new Map();
    for (const hold of this.holds.all()) {
      for (const one of hold.items) {
        const { step } = one;
        const sentence = this.words(one);
        const isEcho = step.is_hold && step !== hold.step;
        if (!isEcho && !one.unsigned) found.set(`${step.pk} ${sentence}`, `${step.code} ${sentence}`);
      }
    }
    return [...found.values()];
  }

  // What the job is handed over with although it is not as it should be, each sentence once: readings with a
  // caution, changes that keep nothing shut, holds the owner let pass.
  get cautions() {
    const found = new Set();
    for (const step of this.job.steps.filter((one) => one.is_in_scope)) {
      const mark = this.mark(step);
      for (const one of Object.values(mark.fields ?? {}))
        if (one.mark === "caution" && one.sentence) found.add(`${step.code} ${one.sentence}`);
      for (const { by_name: by, reason } of mark.overrides ?? [])
        found.add(`${step.code} ${step.title}: ${by} overrode it: “${reason}”`);
    }
    for (const one of this.deviations) if (one.verdict === "caution") found.add(one.sentence);
    for (const one of circuitCautions(this.job, this.states)) found.add(one.words);
    return [...found];
  }

  get requiredParts() {
    return this.holds.requiredSignatures();
  }
}
