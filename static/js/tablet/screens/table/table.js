// All steps of one code as one page: a row for each thing, filled cell by cell and saved in one transaction.
import { h, icon, tell } from "../../dom.js";
import { gettext, interpolate, ngettext } from "../../language.js";
import { record } from "../../record.js";
import { once } from "../field/saving.js";
import { isShut } from "../may.js";
import { isLeft } from "../not_here.js";
import { cellsOf, columnsOf, isEmpty, planned } from "./columns.js";
import { Filler } from "./fill.js";
import { gridRow } from "./grid.js";
import { outOfBand, sureOf } from "./sure.js";

const WIDE = 5; // columns that fit side by side on a tablet that stands upright

// Returns what the page of a table works with; ``isOpen`` says whether a row may be recorded at.
export function tableOf(view, page, draft, isOpen) {
  const steps = page.steps.filter((step) => step.subject);
  const columns = columnsOf(steps);
  const rows = steps.map((step) => ({
    step,
    locks: isShut(view, step) ? view.locks(step) : [],
    cells: isLeft(view, step) ? [] : cellsOf(view, step, columns, isOpen(step)),
  }));
  const cells = rows
    .filter((row) => !row.locks.length)
    .flatMap((row) => row.cells.filter((at) => at.canRecord));
  const table = { view, page, draft, columns, rows, cells };
  table.trial = draft.seen(cells);
  const filler = new Filler(table);
  table.open = (mine) => filler.open(mine);
  return table;
}

export function grid(table) {
  const { columns, rows, page } = table;
  const facts = {
    class: `grid ${columns.length > WIDE ? "grid-cards" : `grid-${columns.length}`}`,
    role: "table",
    "aria-label": page.steps[0].title.split(": ")[0],
  };
  return h(
    "div",
    facts,
    h(
      "div",
      { class: "grid-head", role: "row" },
      h("div", { role: "columnheader" }, h("span", { class: "visually-hidden" }, gettext("Row"))),
      columns.map((one) => h("div", { role: "columnheader" }, one.label)),
    ),
    rows.map((row) => gridRow(table, row)),
  );
}

// One tap writes what is planned into every empty cell that no meter has to say; nothing is saved by it.
export function asPlanned(table) {
  const { cells, draft, page } = table;
  const found = cells.filter((at) => isEmpty(draft, at) && planned(at) !== null);
  if (!found.length) return "";
  const fill = async () => {
    for (const at of found) await draft.put(at.step, at.spec, planned(at));
    tell(interpolate(gettext("{found} cells filled as planned, not saved yet."), { found: found.length }));
    dispatchEvent(new HashChangeEvent("hashchange"));
  };
  return h(
    "button",
    {
      class: "btn btn-secondary btn-tall as-planned",
      type: "button",
      "data-key": `planned-${page.code}`,
      onclick: fill,
    },
    icon("check2-circle"),
    interpolate(gettext(" As planned ({found})"), { found: found.length }),
  );
}

// What was typed and is not saved: how much, and the two ways out.
export function saveBar(table) {
  const { draft, cells, page } = table;
  const typed = cells.filter((at) => draft.has(at.step, at.spec));
  if (!typed.length) return "";
  const dropAll = async () => {
    await draft.clear();
    dispatchEvent(new HashChangeEvent("hashchange"));
  };
  return h(
    "div",
    { class: "table-save" },
    h(
      "button",
      { class: "btn btn-secondary", type: "button", onclick: dropAll },
      icon("x-lg"),
      gettext(" Put away"),
    ),
    h(
      "button",
      {
        class: "btn btn-primary btn-tall",
        type: "button",
        "data-key": `save-${page.code}`,
        onclick: ({ currentTarget }) => saveAll(table, typed, currentTarget),
      },
      interpolate(ngettext("Save {count} value", "Save {count} values", typed.length), {
        count: typed.length,
      }),
    ),
  );
}

async function saveAll(table, typed, control) {
  const { view, draft, page, trial } = table;
  const out = outOfBand(trial, typed, draft);
  if (out.length && !(await sureOf(out))) return;
  const entries = typed.map(({ step, spec, found }) => {
    const { value, cause } = draft.of(step, spec);
    const replaces = found.standing.filter((event) => !event.photo).map((event) => event.id);
    return { step: step.pk, field: spec.name, value, unit: spec.unit ?? "", cause, replaces };
  });
  const work = async () => {
    await record(view, entries);
    await draft.clear();
  };
  const words = interpolate(gettext("{entries} values: saved here"), { entries: entries.length });
  await once(`table/${page.code}`, control, work, words, { view, step: page.steps[0] });
}

export const rowsOpen = (table) => table.rows.filter((row) => !row.locks.length).map((row) => row.step);
