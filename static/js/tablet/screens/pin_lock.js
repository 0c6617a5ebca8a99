// The locked tablet: asks who it is and for the PIN, with or without a network. What is recorded stays.
import { metaGet } from "../db.js";
import { h, icon, tell } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { endSession } from "../leave.js";
import { holder, people, tryPin } from "../people.js";
import { urls } from "../sending/link.js";
import { send } from "../sending/send.js";

const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "⌫", "0"];
let shown;

export async function lock() {
  if (shown?.isConnected) return;
  Object.assign(holder, { isLocked: true, id: null, secret: "" });
  const [all, person] = [await people(), await metaGet("person")];
  shown = new Lock(all, all.find((one) => one.id === person?.id) ?? all[0]).dialog;
  document.body.append(shown);
  shown.showModal();
  send(); // tells the shop's pages that nobody holds this tablet
}

// Somebody gave a password meanwhile: the PIN is not asked for.
export function openIfHeld() {
  if (!shown?.isConnected || holder.isLocked) return;
  shown.remove();
  dispatchEvent(new HashChangeEvent("hashchange"));
}

class Lock {
  constructor(all, who) {
    Object.assign(this, { all, who, pin: "" });
    this.dots = h("output", { class: "pin-dots", "aria-label": "PIN" });
    this.says = h("p", { class: "field-says", role: "alert" });
    this.names = h("div", { class: "choices", role: "group", "aria-label": gettext("Who is it?") });
    const facts = { class: "btn btn-primary pad-save", type: "button", onclick: () => this.open() };
    this.button = h("button", facts, icon("unlock"), gettext(" Unlock"));
    this.dialog = h(
      "dialog",
      { class: "pin-lock", closedby: "none", "aria-label": gettext("Tablet locked") },
      h("h2", {}, icon("lock"), gettext(" Locked")),
      h("p", {}, gettext("What is recorded is kept, and is sent while the tablet is locked.")),
      this.names,
      this.dots,
      this.says,
      h(
        "div",
        { class: "pad-keys" },
        KEYS.map((name) => this.key(name)),
        this.button,
      ),
      h(
        "button",
        { class: "btn btn-secondary btn-tall", type: "button", onclick: () => this.byPassword() },
        icon("person"),
        gettext(" Somebody else, or PIN forgotten: sign in"),
      ),
    );
    this.dialog.addEventListener("keydown", (event) => this.typed(event));
    this.dialog.addEventListener("cancel", (event) => event.preventDefault());
    this.dialog.addEventListener("close", () => this.dialog.isConnected && this.dialog.showModal());
    this.draw();
  }

  key(name) {
    const press = () => this.press(name);
    const facts = { class: "pad-key", type: "button", onclick: press };
    return h("button", { ...facts, "aria-label": name === "⌫" ? gettext("Delete last") : name }, name);
  }

  press(name) {
    if (name === "⌫") this.pin = this.pin.slice(0, -1);
    else if (this.pin.length < 8) this.pin += name;
    this.draw();
  }

  typed(event) {
    if (/^\d$/.test(event.key)) this.press(event.key);
    else if (event.key === "Backspace") this.press("⌫");
    else if (event.key === "Enter" && event.target.tagName !== "BUTTON") this.open();
    else if (event.key === "Escape") event.preventDefault();
  }

  draw() {
    this.dots.replaceChildren("●".repeat(this.pin.length) || "–");
    this.button.disabled = this.pin.length < 4 || this.who.isOut;
    const choose = (one) => () => {
      Object.assign(this, { who: one, pin: "" });
      this.says.textContent = "";
      this.draw();
    };
    const name = (one) =>
      h(
        "button",
        {
          class: `choice${one === this.who ? " choice-on" : ""}`,
          type: "button",
          "aria-pressed": String(one === this.who),
          onclick: choose(one),
        },
        h("span", { class: "choice-dot", "aria-hidden": "true" }),
        h("span", {}, one.name),
      );
    this.names.replaceChildren(...this.all.map(name));
    if (this.who.isOut) this.says.textContent = OUT;
  }

  async open() {
    if (this.button.disabled) return;
    this.button.disabled = true;
    const end = await tryPin(this.who.id, this.pin);
    this.pin = "";
    if (end.ok) {
      this.dialog.remove();
      tell(interpolate(gettext("Unlocked: {name}"), { name: this.who.name }));
      send({ force: true });
      dispatchEvent(new HashChangeEvent("hashchange"));
      return;
    }
    if (end.isOut) this.who.isOut = true;
    this.draw();
    if (!end.isOut)
      this.says.textContent = interpolate(gettext("Not the PIN of {name}. {left}"), {
        name: this.who.name,
        left: left(end.left),
      });
  }

  async byPassword() {
    if (await endSession()) location.assign(`${urls.sign_in}?next=/tablet/`);
    else this.says.textContent = gettext("Signing in needs a network: nobody can check a password here.");
  }
}

const OUT = gettext("Five wrong PINs. Sign in with the password; what is recorded is kept.");
const left = (count) =>
  count === 1 ? gettext("One try is left.") : interpolate(gettext("{count} tries are left."), { count });
