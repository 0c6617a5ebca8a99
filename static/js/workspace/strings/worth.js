// What a kWh is worth, typed once and kept on this device; only those who see prices have the field.

import { by } from "../dom.js";

export class Worth {
  // ``onChange`` is called when another amount was typed.
  constructor(onChange) {
    this.box = by("ws-worth-box");
    by("ws-worth")?.addEventListener("change", () => {
      if (this.read() !== null) this.keep();
      onChange();
    });
  }

  // Shows the field at the first answer that knows an amount.
  offer(worth) {
    if (!this.box || !worth || !this.box.hidden) return;
    this.box.hidden = false;
    by("ws-worth").value = this.kept() ?? worth.amount;
    by("ws-worth-from").textContent = worth.source;
  }

  get name() {
    return `coachlight-kwh-${this.box.dataset.currency}`;
  }

  kept() {
    try {
      return localStorage.getItem(this.name);
    } catch {
      return null;
    }
  }

  keep() {
    try {
      localStorage.setItem(this.name, by("ws-worth").value);
    } catch {
      /* private window */
    }
  }

  // Returns the amount of a kWh; null where none is typed, or one that cannot be.
  read() {
    if (!this.box || this.box.hidden) return null;
    const text = by("ws-worth").value.trim().replace(",", ".");
    const value = text === "" ? null : Number(text);
    const ok = value === null || (value >= 0 && value <= 10);
    const wrong = `Value of a kWh: must be from 0 to 10 ${this.box.dataset.currency}.`;
    by("ws-worth").classList.toggle("is-invalid", !ok);
    by("ws-worth-wrong").textContent = ok ? "" : wrong;
    return ok ? value : null;
  }

  // Returns what so many kWh a year are worth, as it follows a gain; empty where no amount is known.
  words(kwh) {
    const each = this.read();
    if (each === null) return "";
    const amount = Math.round(Math.abs(kwh) * each * 100 + 1e-9) / 100;
    const { currency } = this.box.dataset;
    const text = new Intl.NumberFormat("en-US", { style: "currency", currency }).format(amount);
    return `, ${kwh < 0 ? "−" : ""}${text} a year`;
  }
}
