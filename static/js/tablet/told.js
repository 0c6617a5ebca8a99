// A job as it is shown: its texts in the language that is on, with the shop's own wording. What is judged,
// recorded and signed for stays as it was written; a text changes nothing but the words on the screen.
import { gettext, saysOf } from "./language.js";
import { asWritten } from "./says.js";

const NAMES = ["title", "instruction", "label", "says", "fail_says", "none_says", "undecided"];
const PAIRS = ["choices", "lines"];

export const WORDS = { photo: gettext("photo"), done: gettext("done"), no: gettext("no") };

export class Told {
  constructor(job) {
    this.say = saysOf(job);
    this.isAsWritten = this.say === asWritten;
    this.marks = new WeakMap();
  }

  // A step, field or line of a reading card; the same one where nothing is said otherwise.
  row(row) {
    if (this.isAsWritten) return row;
    const told = { ...row };
    for (const name of NAMES) if (row[name]) told[name] = this.say(row[name]);
    for (const name of PAIRS)
      if (row[name]) told[name] = row[name].map(([key, words]) => [key, this.say(words)]);
    for (const name of ["fields", "card"])
      if (row[name]) told[name] = row[name].map((inside) => this.row(inside));
    if (row.safety) told.safety = this.lines(row.safety);
    return told;
  }

  lines(texts) {
    return texts.map((text) => this.say(text));
  }

  job(job) {
    if (this.isAsWritten) return job;
    return {
      ...job,
      steps: job.steps.map((step) => this.row(step)),
      phases: job.phases.map((phase) => this.row(phase)),
      texts: Object.fromEntries(
        Object.entries(job.texts ?? {}).map(([name, texts]) => [
          name,
          Array.isArray(texts) ? this.lines(texts) : texts,
        ]),
      ),
    };
  }

  // What is said of a step, worked out once for each mark.
  mark(mark) {
    if (this.isAsWritten) return mark;
    if (!this.marks.has(mark)) this.marks.set(mark, this.made(mark));
    return this.marks.get(mark);
  }

  made(mark) {
    const fields = Object.entries(mark.fields ?? {}).map(([name, one]) => [name, this.sentence(one)]);
    return {
      ...mark,
      ...(mark.fields ? { fields: Object.fromEntries(fields) } : {}),
      ...(mark.items ? { items: mark.items.map((item) => this.sentence(item)) } : {}),
    };
  }

  sentence(one) {
    return one.sentence ? { ...one, sentence: this.say(one.sentence) } : one;
  }
}
