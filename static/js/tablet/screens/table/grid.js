// The cells of a table as large buttons: what stands or was typed, what is planned, what is wrong with it.
import { h, icon } from "../../dom.js";
import { gettext, interpolate } from "../../language.js";
import { photoWords } from "../../rules/judging.js";
import { labelOf, shown } from "../../units.js";
import { bandWords } from "../band.js";
import { isLeft } from "../not_here.js";
import { rowTitle } from "../pages.js";
import { cellKey } from "./draft.js";
import { photoCell } from "./photo_cell.js";

// One row: its name, which opens everything of it, and its cells. ``table`` is { view, draft, trial, open }.
export function gridRow(table, row) {
  const { step, cells, locks } = row;
  const left = isLeft(table.view, step);
  return h(
    "div",
    { class: `grid-row${locks.length ? " grid-locked" : ""}`, role: "row", "data-row": String(step.pk) },
    h(
      "div",
      { class: "grid-name", role: "rowheader" },
      h(
        "a",
        {
          href: `#/job/${table.view.pk}/row/${step.pk}`,
          "data-key": `row-${step.pk}`,
          "aria-label": interpolate(gettext("Open {row}"), { row: rowTitle(step) }),
        },
        h("span", {}, rowTitle(step)),
        icon("chevron-right"),
      ),
    ),
    left
      ? h("div", { class: "grid-left", role: "cell" }, gettext("does not apply"))
      : table.columns.map((column) => slot(table, row, column, cells)),
  );
}

function slot(table, row, column, cells) {
  const mine = cells.filter((at) => at.column === column);
  if (!mine.length) return h("div", { class: "grid-none", role: "cell" });
  const shut = row.locks.length > 0;
  return h(
    "div",
    { role: "cell", class: "grid-slot" },
    mine[0].spec.kind === "photo" && !shut
      ? photoCell(mine[0], cellFace(table, mine, column))
      : cellButton(table, mine, column, shut),
  );
}

function cellButton(table, mine, column, shut) {
  const { state, says } = faceOf(table, mine);
  const [at] = mine;
  if (shut) return h("div", { class: "cell cell-shut" }, cellFace(table, mine, column));
  return h(
    "button",
    {
      class: `cell cell-${state}${at.spec.kind === "number" ? " cell-number" : ""}`,
      type: "button",
      disabled: !at.canRecord,
      "data-key": `cell-${cellKey(at.step, at.spec)}`,
      "aria-label": `${rowTitle(at.step)}, ${column.label}: ${says}`,
      onclick: () => table.open(mine),
    },
    cellFace(table, mine, column),
  );
}

function cellFace(table, mine, column) {
  const { state, value, hint } = faceOf(table, mine);
  const shape = { out: "x-octagon", conflict: "question-circle", caution: "exclamation-triangle" }[state];
  const isDone = state === "done";
  return [
    h("span", { class: "cell-label" }, column.label),
    h(
      "span",
      { class: "cell-value" },
      shape ? [icon(shape), " "] : isDone ? [icon("check-lg"), " "] : "",
      value || "–",
    ),
    hint ? h("span", { class: "cell-hint" }, hint) : "",
  ];
}

// Returns { state, value, hint, says } of one cell, or of all feet taken together.
function faceOf(table, mine) {
  const face = mine.length > 1 || mine[0].column.isMany ? facesOf(table, mine) : faceOne(table, mine[0]);
  const words =
    { typed: gettext(", not saved yet"), out: gettext(", out of band"), conflict: gettext(", two values") }[
      face.state
    ] ?? "";
  return { ...face, says: `${face.value || "empty"}${words}${face.hint ? `; ${face.hint}` : ""}` };
}

function faceOne(table, at) {
  const { view, spec, step, found, mark } = at;
  if (spec.kind === "photo") {
    const have = found.photos.length;
    return {
      state: mark.mark === "ok" ? "done" : "empty",
      value: view.told.say(photoWords(spec, have)),
      hint: "",
    };
  }
  const typed = table.draft.of(step, spec);
  const now = typed ? table.trial.mark(step).fields[spec.name] : mark;
  const value = typed
    ? view.say(spec, typed)
    : found.standing.map((event) => view.say(spec, event)).join(" / ");
  const isOut = ["fail", "missing"].includes(now.mark) && value;
  const state =
    found.isConflict && !typed ? "conflict" : isOut ? "out" : now.mark === "caution" ? "caution" : "";
  return {
    state: state || (typed ? "typed" : value ? "done" : "empty"),
    value,
    hint: hintOf(at, value, typed, now),
  };
}

function hintOf({ view, spec, mark }, value, typed, now) {
  if (typed)
    return ["fail", "missing"].includes(now.mark) ? gettext("out of band, not saved") : gettext("not saved");
  if (value) return "";
  const { expected } = expectedIn(spec, mark);
  if (expected !== null && expected !== "") {
    const want = typeof expected === "number" ? shown(view.job, expected, spec.unit) : expected;
    return interpolate(gettext("plan {want}"), { want });
  }
  return spec.kind === "number" ? bandIn(view, spec, mark) : "";
}

// The band in as few words as fit: "85 to 95 in-lb".
function bandIn(view, spec, mark) {
  const words = bandWords(view, spec, { ...mark, expected: null }).replace("Accepted ", "");
  const label = labelOf(view.job, spec.unit);
  return label ? words.replace(` ${label} to`, " to") : words;
}

// A choice is expected by its words, not by its key.
export function expectedIn(spec, mark) {
  const expected = mark.expected ?? spec.expected ?? null;
  return { ...mark, expected: spec.choices.find(([key]) => key === expected)?.[1] ?? expected };
}

function facesOf(table, mine) {
  const amount = (at) => table.draft.of(at.step, at.spec)?.value ?? at.found.value;
  const known = mine.map(amount).filter((value) => value !== null && value !== undefined);
  const isTyped = mine.some((at) => table.draft.has(at.step, at.spec));
  const want = mine.reduce((sum, at) => sum + (at.spec.tick ?? 1), 0);
  const have = known.reduce((sum, value) => sum + (value === true ? 1 : Number(value)), 0);
  const isConflict = mine.some((at) => at.found.isConflict);
  const isWhole = known.length === mine.length && have === want;
  const state = isConflict
    ? "conflict"
    : isTyped
      ? "typed"
      : isWhole
        ? "done"
        : known.length
          ? "caution"
          : "empty";
  const hint = isTyped
    ? gettext("not saved")
    : known.length
      ? ""
      : interpolate(gettext("plan {want}"), { want });
  return { state, value: known.length ? interpolate(gettext("{have} of {want}"), { have, want }) : "", hint };
}
