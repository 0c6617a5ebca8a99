// Stores the photo's place by itself after a moment of rest, and tells how that went.

import { by } from "../dom.js";
import { post } from "../talk.js";

const WAIT = 600; // ms of rest before the place is stored
const AGAIN = 4000;

export class PhotoSaver {
  // ``photo`` returns the photo as it lies now; ``onTheirs`` is given the one somebody else stored meanwhile.
  constructor(photo, onTheirs) {
    Object.assign(this, { photo, onTheirs, timer: 0 });
  }

  soon() {
    this.tell("waiting", "Not saved yet");
    this.wait(WAIT);
  }

  wait(rest) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.save(), rest);
  }

  tell(name, text) {
    const state = by("ws-photo-state");
    state.dataset.state = name;
    state.textContent = text;
  }

  async save() {
    const sent = structuredClone(this.photo());
    this.tell("saving", "Saving …");
    try {
      const response = await post(by("ws-photo-form").dataset.place, sent);
      this.answered(response, await response.json(), sent);
    } catch {
      this.tell("offline", "No connection. The place of the photo is sent when it is back.");
      this.timer = setTimeout(() => this.save(), AGAIN);
    }
  }

  answered(response, got, sent) {
    const photo = this.photo();
    if (response.ok) {
      photo.seen = got.seen;
      const isNewest = JSON.stringify({ ...sent, seen: got.seen }) === JSON.stringify(photo);
      if (isNewest) this.tell("saved", "Saved");
    } else if (response.status === 409 && got.theirs) {
      this.onTheirs(got.theirs);
      this.tell("refused", got.error);
    } else this.tell("refused", `Not saved. ${got.error ?? ""}`);
  }
}
