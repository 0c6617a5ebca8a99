// Cells of a table that were typed and are not saved yet: kept on this tablet for the person who typed them,
// so that a dark tablet or a look at another view costs nothing.
import { database } from "../../db.js";
import { trialOf } from "../trial.js";

const HEAD = "draft/";
const keyOf = (view, code) => `${HEAD}${view.person?.id ?? 0}/${view.pk}/${code}`;

export const cellKey = (step, spec) => `${step.pk}/${spec.name}`;

export async function draftOf(view, page) {
  const key = keyOf(view, page.code);
  const kept = (await (await database()).get("meta", key)) ?? {};
  return new Draft(view, key, kept);
}

// The codes of the tables of a job in which something was typed and not saved.
export async function draftedCodes(view) {
  const head = keyOf(view, "");
  const keys = await (await database()).getAllKeys("meta", IDBKeyRange.bound(head, `${head}\uffff`));
  return new Set(keys.map((key) => key.slice(head.length)));
}

class Draft {
  constructor(view, key, cells) {
    Object.assign(this, { view, key, cells });
  }

  get size() {
    return Object.keys(this.cells).length;
  }

  has(step, spec) {
    return cellKey(step, spec) in this.cells;
  }

  of(step, spec) {
    return this.cells[cellKey(step, spec)];
  }

  put(step, spec, value, cause = "") {
    this.cells[cellKey(step, spec)] = { value, cause };
    return this.keep();
  }

  drop(step, spec) {
    delete this.cells[cellKey(step, spec)];
    return this.keep();
  }

  clear() {
    this.cells = {};
    return this.keep();
  }

  async keep() {
    const db = await database();
    if (this.size) await db.put("meta", this.cells, this.key);
    else await db.delete("meta", this.key);
  }

  // The job as it would be with what is typed, without one cell that is being typed anew.
  seen(cells, except) {
    const typed = cells.filter((at) => this.has(at.step, at.spec) && at !== except);
    if (!typed.length) return this.view;
    const events = typed.map((at, place) =>
      trialOf(
        at,
        this.of(at.step, at.spec).value,
        `ffffffff-ffff-4fff-bffe-${String(place).padStart(12, "0")}`,
      ),
    );
    return this.view.with(...events);
  }
}
