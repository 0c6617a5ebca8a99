// The steps back and forth of the photo's place; they are its own, beside those of the layout.

import { same } from "../store.js";

const placeOf = ({ seen, address, ...place }) => structuredClone(place);

export class PhotoSteps {
  // ``put`` lays the photo as it lay at a step.
  constructor(photo, put) {
    Object.assign(this, { put, past: [], future: [], last: placeOf(photo) });
  }

  // Keeps a step when the photo does not lie as before.
  keep(photo) {
    if (same(placeOf(photo), this.last)) return;
    this.past.push(this.last);
    this.future.length = 0;
    this.last = placeOf(photo);
  }

  forget(photo) {
    this.last = placeOf(photo);
    this.past.length = 0;
    this.future.length = 0;
  }

  undo() {
    this.step(this.past, this.future);
  }

  redo() {
    this.step(this.future, this.past);
  }

  step(from, to) {
    if (!from.length) return;
    to.push(this.last);
    this.last = from.pop();
    this.put(structuredClone(this.last));
  }
}
