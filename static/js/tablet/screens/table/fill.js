// Fills the cells of a table one after the other: pad, big answers or words, then the next empty cell.
import { h, icon } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { checked } from "../../rules/entries.js";
import { expectedLine } from "../field/expected.js";
import { choiceSheet, linesSheet, severalSheet } from "../field/pick.js";
import { wordRow } from "../field/text.js";
import { openPad } from "../pad.js";
import { rowTitle } from "../pages.js";
import { openSheet } from "../sheet.js";
import { isEmpty } from "./columns.js";

const redraw = () => dispatchEvent(new HashChangeEvent("hashchange"));
const ASKED = ["number", "choice", "text", "serial", "several", "lines"];

export class Filler {
  // ``table`` is { view, draft, cells } with the cells of all rows that are open, in order.
  constructor(table) {
    this.table = table;
  }

  // Opens one cell, or the sheet of all feet of a row.
  open(mine) {
    if (mine.length > 1 || mine[0].column.isMany) return this.feet(mine);
    return this.one(mine[0]);
  }

  one(at, isOn = true) {
    const { kind } = at.spec;
    const keep = (value, cause) => this.keep(at, value, cause, isOn);
    if (kind === "tick") return this.turn(at);
    if (kind === "number") return this.number(at, keep);
    if (kind === "choice") return choiceSheet(this.titled(at), this.valueOf(at), keep);
    if (kind === "several") return severalSheet(this.titled(at), this.valueOf(at), keep);
    if (kind === "lines") return linesSheet(this.titled(at), this.valueOf(at), keep);
    if (kind === "signature") {
      location.hash = `#/job/${this.table.view.pk}/row/${at.step.pk}`;
      return undefined;
    }
    return this.words(at, keep);
  }

  titled(at) {
    return { ...at, title: `${rowTitle(at.step)} · ${at.spec.label}`, clear: () => this.clear(at) };
  }

  valueOf(at) {
    return this.table.draft.of(at.step, at.spec)?.value ?? at.found.value;
  }

  number(at, keep) {
    const { draft } = this.table;
    const view = draft.seen(this.table.cells, at);
    const title = `${rowTitle(at.step)} · ${at.spec.label}`;
    const next = this.next(at);
    const saveWords = next
      ? interpolate(gettext("Next: {part}"), {
          part: next.step === at.step ? next.spec.label : rowTitle(next.step),
        })
      : gettext("Done");
    const typed = draft.of(at.step, at.spec);
    const says = { title, saveWords, typed: typed?.value, clear: typed ? () => this.clear(at) : null };
    openPad({ ...at, view, says }, (_, value, cause) => keep(value, cause));
  }

  words(at, keep) {
    const error = h("p", { class: "field-says", role: "alert" });
    const go = (typed, _, { isScanned = false } = {}) => {
      const result = checked(at.view.job, at.spec, typed);
      error.textContent = result.error ?? "";
      if (result.error) return;
      sheet.close();
      this.isScanning = isScanned;
      keep(result.value);
    };
    const row = wordRow(at, go, this.next(at) ? gettext("Next") : gettext("Done"), this.valueOf(at) ?? "");
    const sheet = openSheet(this.titled(at).title, [
      expectedLine(at),
      h("div", { class: "field" }, row, error),
    ]);
    sheet.querySelector("input")?.focus();
    if (this.isScanning) sheet.querySelector(".scan-open")?.click(); // one sticker after the other
    this.isScanning = false;
  }

  // A tick is turned where it is; one that is recorded is taken back in the row.
  async turn(at) {
    const { draft } = this.table;
    if (draft.has(at.step, at.spec)) await draft.drop(at.step, at.spec);
    else if (at.found.value === true) location.hash = `#/job/${this.table.view.pk}/row/${at.step.pk}`;
    else await draft.put(at.step, at.spec, true);
    redraw();
  }

  // The next cell opens in the same moment: a quick finger finds no page between the two.
  keep(at, value, cause, isOn) {
    const kept = this.table.draft.put(at.step, at.spec, value, cause);
    const next = isOn ? this.next(at) : null;
    if (next) this.one(next);
    return kept.then(redraw);
  }

  async clear(at) {
    await this.table.draft.drop(at.step, at.spec);
    redraw();
  }

  // The next cell that nothing stands in and that has to be filled.
  next(at) {
    const { cells, draft } = this.table;
    const place = cells.findIndex((one) => one.step === at.step && one.spec.name === at.spec.name);
    return cells
      .slice(place + 1)
      .find(
        (one) =>
          ASKED.includes(one.spec.kind) && !one.column.isMany && one.spec.required && isEmpty(draft, one),
      );
  }

  // All feet of one row: a tap puts all holes in, a second tap asks for the number.
  feet(mine) {
    const title = `${rowTitle(mine[0].step)} · ${mine[0].column.label}`;
    const grid = h("div", { class: "feet" });
    const draw = () => grid.replaceChildren(...mine.map((at) => this.foot(at, draw)));
    draw();
    openSheet(title, [
      grid,
      h("p", { class: "input-help" }, gettext("A tap records all; a second tap asks for the number.")),
    ]);
  }

  foot(at, draw) {
    const { draft } = this.table;
    const value = this.valueOf(at);
    const want = at.spec.tick ?? 1;
    const isWhole = value === want || value === true;
    const put = async (number, cause) => {
      await draft.put(at.step, at.spec, number, cause);
      draw();
      redraw();
    };
    const all = at.spec.kind === "tick" ? true : at.spec.whole ? Math.trunc(want) : want;
    const isNew = value === null || value === undefined;
    const tap = () =>
      isNew || at.spec.kind !== "number"
        ? put(all)
        : openPad({ ...at, says: { saveWords: gettext("Done"), typed: value } }, (_, number, cause) =>
            put(number, cause),
          );
    return h(
      "button",
      { class: `foot-cell${isWhole ? " foot-done" : ""}`, type: "button", onclick: tap },
      h("span", {}, at.spec.label),
      h(
        "strong",
        {},
        isWhole ? icon("check-lg") : "",
        interpolate(gettext(" {part} of {want}"), { part: isNew ? 0 : Number(value), want }),
      ),
    );
  }
}
