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
      } else this.onTrouble(`The numbers could not be updated (${response.status}).`);
    } catch (problem) {
      if (problem.name !== "AbortError")
        this.onTrouble("No connection: you can look and move panels; the numbers update when it is back.");
    }
    this.running = null;
    this.next();
  }
}

const WAIT = 700; // ms of rest before a change is sent
const AGAIN = 4000; // ms of rest after a server was out of reach, twice that the next time
const LONGEST = 64000;

// Stores the layout by itself. What the server refused is not sent again until somebody changes it.
export class Saver {
  constructor(address, store, onState, onConflict) {
    Object.assign(this, { address, store, onState, onConflict, timer: 0, isBusy: false, isHeld: false });
    Object.assign(this, { refusedKey: null, missed: 0 });
    addEventListener("online", () => this.soon(0));
  }

  // Whether this very layout was refused: sending it again would only be refused again.
  get isRefused() {
    return this.refusedKey !== null && this.refusedKey === this.store.key;
  }

  soon(wait = WAIT) {
    if (this.isHeld || this.isRefused || !this.store.isDirty) return;
    clearTimeout(this.timer);
    this.onState("waiting");
    this.timer = setTimeout(() => this.send(), wait);
  }

  async send() {
    if (this.isBusy || this.isHeld || this.isRefused || !this.store.isDirty) return;
    clearTimeout(this.timer);
    const { layout, seen, key } = this.store;
    this.isBusy = true;
    this.onState("saving");
    let again = 0;
    try {
      again = await this.answered(await post(this.address, { layout, seen, key }), key);
    } catch {
      this.onState("offline");
      again = this.later();
    }
    this.isBusy = false;
    if (again && this.store.isDirty) this.timer = setTimeout(() => this.send(), again);
  }

  // Takes the server's answer to a layout; says after how many ms to send once more, 0 for not by itself.
  async answered(response, key) {
    if (response.ok) {
      this.store.stored((await response.json()).edit_count, key);
      this.missed = 0;
      this.onState(this.store.isDirty ? "waiting" : "saved");
      return WAIT;
    }
    if (response.status === 409) {
      this.isHeld = true;
      this.onConflict(await response.json());
      return 0;
    }
    if (response.status >= 500) {
      this.onState("refused", `The server answered ${response.status}. Your roof is kept on this device.`);
      return this.later();
    }
    const words =
      response.status === 422
        ? (await response.json()).error
        : `The server answered ${response.status}. Your roof is kept on this device.`;
    this.missed = 0;
    this.refusedKey = key;
    this.onState("refused", words);
    return this.isRefused ? 0 : WAIT; // somebody changed it meanwhile
  }

  later() {
    this.missed += 1;
    return Math.min(AGAIN * 2 ** (this.missed - 1), LONGEST);
  }

  // Resolves when everything is stored, or cannot be for now.
  async settled() {
    const missed = this.missed;
    for (let tries = 0; tries < 20; tries += 1) {
      if (!this.store.isDirty || this.isHeld || this.isRefused || this.missed > missed) return;
      await this.send();
      if (this.isBusy) await new Promise((resolve) => setTimeout(resolve, 150));
    }
  }

  release() {
    this.isHeld = false;
    this.soon(0);
  }
}
