// Numbers typed beside the roof: read in the shop's units, refused with field, limit and unit, never lost.

import { read, show } from "./lengths.js";

const KINDS = {
  length: { show, read },
  degrees: {
    show: (value) => `${Math.round(value * 10) / 10}°`,
    read: (text) => plain(text.replace("°", "")),
  },
  percent: {
    show: (value) => `${Math.round(value * 1000) / 10}%`,
    read: (text) => part(plain(text.replace("%", ""))),
  },
};

function plain(text) {
  const value = Number(text.trim().replace("−", "-").replace(",", "."));
  return text.trim() && Number.isFinite(value) ? value : null;
}

const part = (value) => (value === null ? null : value / 100);

// ``limits`` names each field: [low, high, words, kind, may be blank]. ``set`` is told what was typed.
export class NumberForm {
  constructor(form, { units, limits, wrong, set }) {
    Object.assign(this, { form, units, limits, wrong, set, owner: null });
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("change", (event) => this.changed(event.target));
    form.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
      event.preventDefault();
      this.changed(event.target);
    });
  }

  // Shows the values of one owner; a refused text stays until the owner changes.
  show(owner, values) {
    const isSame = owner === this.owner;
    this.owner = owner;
    for (const [name, value] of Object.entries(values)) {
      const field = this.form.elements[name];
      if (!field) continue;
      if (field.type === "checkbox") field.checked = value;
      else if (!(name in this.limits)) field.value = value;
      else if (!isSame || !field.classList.contains("is-invalid")) this.put(field, value);
    }
  }

  put(field, value) {
    const { show: words } = KINDS[this.limits[field.name][3]];
    this.mark(field, "");
    field.value = value === null || value === undefined ? "" : words(value, this.units);
    field.dataset.shown = field.value;
  }

  changed(field) {
    if (field.type === "checkbox") return this.set(field.name, field.checked);
    if (!(field.name in this.limits)) return this.set(field.name, field.value.trim());
    if (field.value === field.dataset.shown) return this.mark(field, "");
    const [low, high, words, kind, mayBeBlank] = this.limits[field.name];
    if (mayBeBlank && !field.value.trim()) return this.took(field, null);
    const value = KINDS[kind].read(field.value, this.units);
    if (value !== null && value >= low - 0.05 && value <= high + 0.05) return this.took(field, value);
    const range = [low, high].map((limit) => KINDS[kind].show(limit, this.units)).join(" to ");
    this.mark(field, `${words}: must be from ${range}; you typed “${field.value}”.`);
  }

  took(field, value) {
    this.mark(field, "");
    this.set(field.name, value);
  }

  mark(field, words) {
    field.classList.toggle("is-invalid", Boolean(words));
    if (words) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
    this.wrong.textContent = words;
  }
}
