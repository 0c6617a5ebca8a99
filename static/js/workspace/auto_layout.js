// Automatic layouts: sends what is allowed, looks how far the search is, hands over the layout that is taken.
// The server draws every state; this only puts its answers in place. Without script the same forms work.

import { by } from "./dom.js";

const AGAIN = 700; // ms between two looks
const CALM = 3000; // ms after a look that failed

export class AutoLayout {
  // `take` is given a layout; without it, taking is an ordinary form. `ready` is awaited before a search.
  constructor(place, { take = null, ready = null } = {}) {
    Object.assign(this, { place, take, ready, timer: 0, shown: "" });
    place.addEventListener("submit", (event) => this.onSubmit(event));
    place.addEventListener("click", (event) => {
      if (!event.target.closest("[data-lay-look]")) return;
      event.preventDefault();
      this.look();
    });
    this.follow();
  }

  get part() {
    return this.place.querySelector(".lay");
  }

  // Fills an empty place for the first time.
  async open(address) {
    if (!this.part) await this.look(address);
  }

  onSubmit(event) {
    const form = event.target;
    const kind = form.dataset.lay;
    if (kind === "take") {
      if (!this.take) return;
      event.preventDefault();
      this.take(JSON.parse(by(form.dataset.candidate).textContent));
    } else if (kind) {
      event.preventDefault();
      this.send(form);
    }
  }

  async send(form) {
    clearTimeout(this.timer);
    const body = new FormData(form);
    for (const button of form.querySelectorAll("button")) button.disabled = true;
    if (form.dataset.lay === "ask") await this.ready?.();
    await this.fetch(form.action, { method: "POST", body });
    this.place.querySelector("[data-focus]")?.focus();
  }

  look(address = this.part?.dataset.address) {
    clearTimeout(this.timer);
    return this.fetch(address);
  }

  async fetch(address, more = {}) {
    try {
      const response = await fetch(address, { ...more, headers: { "HX-Request": "true" } });
      const text = await response.text();
      if (response.ok || response.status === 422) this.put(text);
      else this.trouble(`The search could not be started (${response.status}).`);
    } catch {
      this.trouble(
        "No connection: the search goes on without this page and is shown when the connection is back.",
      );
      this.timer = setTimeout(() => this.look(address), CALM);
    }
  }

  // While a search runs the form is left as it is: somebody may be changing it.
  put(text) {
    const made = new DOMParser().parseFromString(text, "text/html").querySelector(".lay");
    if (!made) return this.trouble("The page has changed. Load it again."); // signed out, most likely
    const old = this.part;
    const names = new Set(["lay-progress", "lay-cards", "lay-foot"]);
    if (old && made.dataset.open === "yes" && old.dataset.open === "yes") {
      for (const one of [...old.children])
        if ([...one.classList].some((name) => names.has(name))) one.remove();
      old.append(...[...made.children].filter((one) => [...one.classList].some((name) => names.has(name))));
    } else this.place.replaceChildren(made);
    this.follow();
  }

  follow() {
    clearTimeout(this.timer);
    if (this.part?.dataset.open === "yes") this.timer = setTimeout(() => this.look(), AGAIN);
  }

  trouble(words) {
    const line = this.place.querySelector(".lay-trouble") ?? document.createElement("p");
    Object.assign(line, { className: "notice notice-error lay-trouble", textContent: words });
    line.setAttribute("role", "status");
    this.place.prepend(line);
    for (const button of this.place.querySelectorAll("button:disabled")) button.disabled = false;
  }
}

// Joins it to the workspace: taking a layout is one step that can be undone.
export function offerAutoLayout(store, saver) {
  const sheet = by("ws-lay-sheet");
  const autoLayout = new AutoLayout(by("ws-lay"), {
    ready: () => saver.settled(),
    take: (taken) => {
      store.change((layout) => Object.assign(layout, structuredClone(taken)));
      close();
      by("ws-said").textContent = `${taken.panels.length} panels laid. Undo brings the old roof back.`;
    },
  });
  const close = () => {
    sheet.hidden = true;
    by("ws-stage").focus();
  };
  by("ws-lay-open").addEventListener("click", (event) => {
    event.preventDefault();
    sheet.hidden = false;
    by("ws-lay-h").focus();
    autoLayout.open(event.currentTarget.href);
  });
  by("ws-lay-close").addEventListener("click", () => {
    sheet.hidden = true;
    by("ws-lay-open").focus();
  });
}
