// Talks to the server: the newest layout is answered, older answers are dropped, changes are stored by
// themselves.

const token = () => JSON.parse(document.body.getAttribute("hx-headers:inherited"))["X-CSRFToken"];

export function post(address, body, signal) {
  return fetch(address, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-CSRFToken": token() },
    body: JSON.stringify(body),
    signal,
  });
}

// One question is under way at a time; what comes meanwhile waits, the newest only. A question that wants the
// plan drawn goes first and stops one that does not; two drawings never chase each other, however fast keys
// repeat.
export class Live {
  constructor(address, onAnswer, onTrouble) {
    Object.assign(this, {
      address,
      onAnswer,
      onTrouble,
      sequence: 0,
      shown: 0,
      drawing: null,
      waiting: null,
      running: null,
    });
  }

  ask(layout, draw = false, more = {}) {
    this.sequence += 1;
    const question = { ...more, layout: structuredClone(layout), draw, sequence: this.sequence };
    if (draw) Object.assign(this, { drawing: question, waiting: null });
    else this.waiting = question;
    if (draw && !this.running?.draws) this.running?.abort();
    if (!this.running) this.next();
  }

  // Asks only when nothing newer waits.
  follow(layout) {
    if (!this.waiting && !this.drawing) this.ask(layout);
  }

  async next() {
    const question = this.drawing ?? this.waiting;
    if (!question) return;
    if (this.drawing) this.drawing = null;
    else this.waiting = null;
    const running = Object.assign(new AbortController(), { draws: question.draw });
    this.running = running;
    try {
      const response = await post(this.address, question, running.signal);
      if (response.ok || response.status === 422) {
        const answer = await response.json();
        if (question.sequence > this.shown) {
          this.shown = question.sequence;
          this.onAnswer(answer);
        }
      } else this.onTrouble(`The sums could not be asked (${response.status}).`);
    } catch (problem) {
      if (problem.name !== "AbortError") this.onTrouble("No connection: you can look and move, sums wait.");
    }
    this.running = null;
    this.next();
  }
}

const WAIT = 700; // ms of rest before a change is sent
const AGAIN = 4000;

export class Saver {
  constructor(address, store, onState, onConflict) {
    Object.assign(this, { address, store, onState, onConflict, timer: 0, isBusy: false, isHeld: false });
    addEventListener("online", () => this.soon(0));
  }

  soon(wait = WAIT) {
    if (this.isHeld || !this.store.isDirty) return;
    clearTimeout(this.timer);
    this.onState("waiting");
    this.timer = setTimeout(() => this.send(), wait);
  }

  async send() {
    if (this.isBusy || this.isHeld || !this.store.isDirty) return;
    const { layout, seen, key } = this.store;
    this.isBusy = true;
    this.onState("saving");
    let again = 0;
    try {
      const response = await post(this.address, { layout, seen, key });
      if (response.ok) {
        this.store.stored((await response.json()).edit_count, key);
        this.onState(this.store.isDirty ? "waiting" : "saved");
        again = WAIT;
      } else if (response.status === 409) {
        this.isHeld = true;
        this.onConflict(await response.json());
      } else if (response.status === 422) this.onState("refused", (await response.json()).error);
      else
        this.onState("refused", `The server answered ${response.status}. The layout is kept on this device.`);
    } catch {
      this.onState("offline");
      again = AGAIN;
    }
    this.isBusy = false;
    if (again && this.store.isDirty) this.timer = setTimeout(() => this.send(), again);
  }

  // Resolves when everything is stored, or cannot be for now.
  async settled() {
    if (!this.store.isDirty) return;
    clearTimeout(this.timer);
    for (let tries = 0; this.store.isDirty && !this.isHeld && tries < 20; tries += 1) {
      await this.send();
      if (this.store.isDirty) await new Promise((resolve) => setTimeout(resolve, 150));
    }
  }

  release() {
    this.isHeld = false;
    this.soon(0);
  }
}
