// The big number pad: unit, expected value, band and bar in view; a number outside says so while it is typed.
import { h, icon, tell } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { checked } from "../rules/entries.js";
import { amountText, hasFractions, labelOf, storedOf } from "../units.js";
import { bandWords, bar, hintLines } from "./band.js";
import { KEYS, NAMES, PARTS, TYPED } from "./pad_keys.js";
import { consequences, judged } from "./trial.js";

const LONGEST = 12; // digits

// ``save`` is given the field, the number, and why it is read again. ``at.says`` may name the pad and its
// button, the number typed before, and how to clear it: { title, saveWords, typed, clear }.
export function openPad(at, save) {
  const pad = new Pad(at, save);
  document.body.append(pad.dialog);
  pad.draw();
  pad.dialog.showModal();
  tell(`${at.says?.title ?? at.spec.label}. ${bandWords(at.view, at.spec, at.mark)}`);
}

class Pad {
  constructor(at, save) {
    const { spec, mark, found } = at;
    const says = { title: spec.label, saveWords: gettext("Save"), typed: null, clear: null, ...at.says };
    Object.assign(this, { at, save, own: says, text: "", part: 0, cause: "" });
    this.needsCause = mark.mark === "fail" && found.standing.length > 0;
    this.screen = h("output", { class: "pad-number", "aria-label": spec.label });
    this.says = h("div", { class: "pad-says", "aria-live": "polite" });
    this.place = h("div", { class: "pad-band" });
    const keep = () => this.keep();
    this.button = h("button", { class: "btn btn-primary pad-save", type: "button", onclick: keep }, "");
    this.dialog = h(
      "dialog",
      { class: "pad-view", "aria-label": says.title },
      this.head(),
      this.side(),
      this.keys(),
    );
    this.dialog.addEventListener("keydown", (event) => this.typed(event));
    this.dialog.addEventListener("close", () => this.closed());
  }

  // --- the number as it is typed ---

  // Returns the number in stored units, null while there is none.
  get value() {
    const { view, spec } = this.at;
    const sign = this.text.startsWith("-") ? -1 : 1;
    const amount = Number(this.text || "0") + sign * this.part;
    const isBlank = this.text.replace("-", "") === "" && !this.part;
    return isBlank || !Number.isFinite(amount) ? null : storedOf(view.job, amount, spec.unit);
  }

  press(key) {
    if (key === "⌫") {
      if (this.part) this.part = 0;
      else this.text = this.text.slice(0, -1);
    } else if (key === "−") this.text = this.text.startsWith("-") ? this.text.slice(1) : `-${this.text}`;
    else if (key === ".") this.text += this.text.includes(".") ? "" : ".";
    else if (this.text.length < LONGEST) this.text += key;
    this.draw();
  }

  typed(event) {
    const key = TYPED[event.key] ?? event.key;
    if ([...KEYS, "−"].includes(key)) {
      this.press(key);
      event.preventDefault();
    } else if (event.key === "Enter" && !this.button.disabled && !event.target.closest(".pad-key")) {
      this.button.click();
    }
  }

  keep() {
    const now = this.value;
    this.dialog.close();
    this.save(this.at, now, this.cause);
  }

  closed() {
    const { step, spec } = this.at;
    this.dialog.remove();
    document.querySelector(`[data-key="pad-${step.pk}/${spec.name}"]`)?.focus();
  }

  // --- showing ---

  draw() {
    const { at } = this;
    const now = this.value;
    const mark = now === null ? at.mark : judged(at, now);
    const problem = now === null ? "" : (checked(at.view.job, at.spec, now).error ?? "");
    const isOut = ["fail", "caution"].includes(mark.mark) && now !== null && !problem;
    this.drawNumber();
    this.place.replaceChildren(...[bar(mark, now)].filter((one) => one.nodeType));
    this.says.replaceChildren(...this.warnings(now, mark, problem, isOut));
    this.button.disabled = now === null || Boolean(problem) || (this.needsCause && !this.cause);
    const { saveWords } = this.own;
    this.button.textContent = !isOut
      ? saveWords
      : saveWords === gettext("Save")
        ? gettext("Save it anyway")
        : gettext("It reads this");
  }

  drawNumber() {
    const { view, spec } = this.at;
    const { text, part } = this;
    const known = PARTS.find(([, size]) => size === part)?.[0];
    const fraction = known ?? (part ? `+${Math.round(part * 8)}/8` : "");
    const digits = text.replace("-", "−") || (part ? "" : "–");
    this.screen.replaceChildren(
      h("span", { class: "pad-digits" }, `${digits}${fraction ? ` ${fraction}` : ""}`),
      h("span", { class: "pad-unit" }, labelOf(view.job, spec.unit)),
    );
  }

  warnings(now, mark, problem, isOut) {
    const { at } = this;
    const says = (shape, words) => h("p", { class: "field-says" }, icon(shape), ` ${words}`);
    if (problem) return [says("x-octagon", problem)];
    if (now === null) return [];
    const worse = consequences(at, now).map((sentence) => says("exclamation-triangle", sentence));
    if (!isOut) return worse;
    const words = clean(mark.sentence, at.spec) || gettext("Outside the accepted band.");
    return [says("x-octagon", words), ...hintLines(at.step, mark, now), ...worse];
  }

  // --- what it is made of ---

  head() {
    const close = () => this.dialog.close();
    return h(
      "div",
      { class: "pad-head" },
      h("h2", {}, this.own.title),
      h(
        "button",
        { class: "btn btn-secondary", type: "button", onclick: close },
        icon("x-lg"),
        gettext(" Close"),
      ),
    );
  }

  // The way to leave a cell of a table empty again.
  clearing() {
    if (!this.own.clear) return "";
    const clear = () => {
      this.dialog.close();
      this.own.clear();
    };
    return h(
      "button",
      { class: "btn btn-secondary", type: "button", onclick: clear },
      gettext("Leave it empty"),
    );
  }

  side() {
    const { view, spec, mark, found } = this.at;
    const typed = this.own.typed ?? null;
    const typedNow = typed === null ? [] : [{ value: typed }];
    const last = [...found.standing, ...typedNow].map(
      (event) => `${amountText(view.job, event.value, spec.unit)} ${labelOf(view.job, spec.unit)}`,
    );
    return h(
      "div",
      { class: "pad-side" },
      h("p", { class: "field-band" }, bandWords(view, spec, mark) || " "),
      last.length
        ? h("p", { class: "pad-last" }, interpolate(gettext("Last: {join}"), { join: last.join(", ") }))
        : "",
      this.screen,
      this.place,
      this.says,
      this.needsCause ? this.causes() : "",
      this.clearing(),
    );
  }

  keys() {
    const { view, spec } = this.at;
    return h(
      "div",
      { class: "pad-keys" },
      KEYS.map((name) => this.key(name)),
      hasFractions(view.job, spec.unit) ? PARTS.map((part) => this.partKey(part)) : "",
      (spec.min ?? -1) < 0 ? this.key("−") : "",
      this.button,
    );
  }

  key(name) {
    const facts = { type: "button", class: "pad-key", "aria-label": NAMES[name] };
    return h("button", { ...facts, onclick: () => this.press(name) }, name);
  }

  partKey([sign, size]) {
    const add = () => {
      this.part = (this.part + size) % 1;
      this.draw();
    };
    const facts = {
      type: "button",
      class: "pad-key pad-part",
      "aria-label": interpolate(gettext("plus {size}"), { size }),
    };
    return h("button", { ...facts, onclick: add }, sign);
  }

  causes() {
    const buttons = this.at.view.job.causes.map(([value, words]) =>
      h(
        "button",
        { class: "choice", type: "button", "aria-pressed": "false", onclick: () => choose(value) },
        h("span", { class: "choice-dot", "aria-hidden": "true" }),
        words,
      ),
    );
    const choose = (cause) => {
      this.cause = cause;
      for (const [place, [value]] of this.at.view.job.causes.entries()) {
        buttons[place].setAttribute("aria-pressed", String(value === cause));
        buttons[place].classList.toggle("choice-on", value === cause);
      }
      this.draw();
    };
    return h(
      "div",
      {},
      h(
        "p",
        { class: "input-label" },
        gettext("The last number failed and stays on record. Why is it read again?"),
      ),
      h("div", { class: "choices" }, buttons),
    );
  }
}

const clean = (sentence, spec) => {
  const words = (sentence ?? "").replace(`${spec.label}: `, "");
  return words ? words[0].toUpperCase() + words.slice(1) : "";
};
