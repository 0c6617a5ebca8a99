// Holds the layout being edited, every step back and forth, and a copy on this device until it is stored.

const copy = (value) => structuredClone(value);
export const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

export class Store {
  constructor(start) {
    this.name = `coachlight-roof-${start.design}`;
    this.layout = copy(start.layout);
    this.seen = start.edit_count;
    this.past = [];
    this.future = [];
    this.isDirty = false;
    this.key = null;
    this.listeners = [];
    if (start.may_edit) this.recall(start);
  }

  onChange(listener) {
    this.listeners.push(listener);
  }

  tell() {
    this.keep();
    for (const listener of this.listeners) listener();
  }

  // Takes up what this device kept: unsaved work always, the steps back only while they still fit.
  recall(start) {
    const kept = this.read();
    if (!kept) return;
    kept.layout = { ...copy(start.layout), ...kept.layout }; // kept before this part of a layout was known
    if (kept.isDirty && !same(kept.layout, start.layout)) {
      Object.assign(this, { layout: kept.layout, seen: kept.seen, key: kept.key, isDirty: true });
    } else if (!same(kept.layout, start.layout)) {
      return;
    }
    Object.assign(this, { past: kept.past, future: kept.future });
  }

  read() {
    try {
      return JSON.parse(localStorage.getItem(this.name));
    } catch {
      return null;
    }
  }

  keep() {
    const { layout, seen, past, future, isDirty, key } = this;
    try {
      localStorage.setItem(this.name, JSON.stringify({ layout, seen, past, future, isDirty, key }));
    } catch {
      try {
        // no room for the steps: the work itself matters more
        localStorage.setItem(this.name, JSON.stringify({ layout, seen, past: [], future: [], isDirty, key }));
      } catch {
        /* private window: the page itself still holds it */
      }
    }
  }

  change(edit) {
    const next = copy(this.layout);
    edit(next);
    if (same(next, this.layout)) return false;
    this.past.push(this.layout);
    this.future = [];
    this.put(next);
    return true;
  }

  put(layout) {
    this.layout = layout;
    this.isDirty = true;
    this.key = crypto.randomUUID();
    this.tell();
  }

  undo() {
    if (!this.past.length) return;
    this.future.push(this.layout);
    this.put(this.past.pop());
  }

  redo() {
    if (!this.future.length) return;
    this.past.push(this.layout);
    this.put(this.future.pop());
  }

  stored(count, key) {
    this.seen = count;
    if (key === this.key) this.isDirty = false;
    this.keep();
  }

  takeTheirs(theirs, count) {
    this.past.push(this.layout);
    this.future = [];
    Object.assign(this, { layout: copy(theirs), seen: count, isDirty: false, key: null });
    this.tell();
  }

  panel(number) {
    return this.layout.panels.find((one) => one.number === number);
  }
}
