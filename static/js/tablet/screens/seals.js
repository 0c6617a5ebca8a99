// The count of holes, foot by foot: made, sealed under, sealed over, with the plan beside it.
import { h, icon, picture } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { recordValue } from "../record.js";
import { NOTHING } from "../rules/reducer.js";
import { mayRecord } from "./may.js";
import { openPad } from "./pad.js";
import { jobHead, lines, saving } from "./parts.js";

export function seals(view) {
  const groups = sides(view);
  return h(
    "div",
    {},
    jobHead(view, gettext("Seal count")),
    h(
      "div",
      { class: "two" },
      h(
        "div",
        {},
        h("section", { class: "sheet" }, sealTable(view)),
        groups.map((group) => footRows(view, group)),
      ),
      view.job.plan_svg
        ? h(
            "section",
            { class: "sheet plan-side" },
            h("h2", {}, gettext("Roof plan")),
            picture(view.job.plan_svg, gettext("Roof plan with panels, feet and gland")),
          )
        : "",
    ),
  );
}

// The panels and the gland box with their steps "under" and "over".
function sides(view) {
  const of = (role, subject) => view.inScope.find((step) => step.role === role && step.subject === subject);
  const groups = (view.verdicts.seals?.groups ?? []).map(({ name, title }) => ({
    title: title[0].toUpperCase() + title.slice(1),
    subject: name === "gland" ? "gland:box" : `panel:${name}`,
  }));
  return groups
    .map((group) => ({
      ...group,
      under: of("seal_under", group.subject),
      over: of("seal_over", group.subject),
    }))
    .filter((group) => group.under || group.over);
}

function footRows(view, group) {
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, group.title),
    [
      [gettext("Under"), group.under],
      [gettext("Over"), group.over],
    ].map(([side, step]) =>
      step
        ? h(
            "div",
            {},
            h(
              "h3",
              { class: "seal-side" },
              interpolate(gettext("Sealed {toLowerCase}"), { toLowerCase: side.toLowerCase() }),
            ),
            h("div", { class: "feet" }, cells(view, step)),
          )
        : "",
    ),
  );
}

function cells(view, step) {
  return view
    .fields(step)
    .filter((spec) => (spec.tick ?? null) !== null)
    .map((spec) => cell(view, step, spec));
}

function cell(view, step, spec) {
  const found = view.state(step).fields[spec.name] ?? NOTHING;
  const isWhole = found.value === spec.tick;
  const state = found.isConflict
    ? gettext("two counts")
    : interpolate(gettext("{value} of {tick}"), { value: found.value ?? 0, tick: spec.tick });
  const hint =
    found.value === null
      ? interpolate(gettext("; tap records all {tick}"), { tick: spec.tick })
      : gettext("; tap changes it");
  return h(
    "button",
    {
      class: `foot-cell${isWhole ? " foot-done" : ""}`,
      type: "button",
      disabled: !mayRecord(view, step),
      "data-key": `seal-${step.pk}-${spec.name}`,
      onclick: () => tapped(view, step, spec, found),
      "aria-label": `${spec.label}: ${state}${hint}`,
    },
    h(
      "span",
      {},
      spec.name.startsWith("foot_")
        ? interpolate(gettext("Foot {slice}"), { slice: spec.name.slice(5) })
        : gettext("Screws"),
    ),
    h("strong", {}, isWhole ? icon("check-lg") : "", ` ${state}`),
  );
}

// The first tap records all holes as sealed; a later one asks for the number.
function tapped(view, step, spec, found) {
  const save = async (value, cause) => {
    saving(document.querySelector(`[data-key="seal-${step.pk}-${spec.name}"]`));
    await recordValue(view, step, spec, value, cause);
    dispatchEvent(new HashChangeEvent("hashchange"));
  };
  if (found.value === null && !found.isConflict) {
    return save(spec.whole ? Math.trunc(spec.tick) : spec.tick, "");
  }
  const mark = view.mark(step).fields[spec.name];
  return openPad({ view, step, spec, found, canRecord: true, mark }, (_, value, cause) => save(value, cause));
}

export function sealTable(view) {
  const count = view.verdicts.seals;
  if (!count) return h("p", { class: "empty" }, gettext("This job makes no holes."));
  const cell = (value) => h("td", { class: "end num" }, value ?? "–");
  const { made, under, over, cableHoles, cableHolesSealed, unused, patched } = count;
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "region", "aria-label": gettext("Count of holes") },
    h(
      "table",
      { class: "ledger seal-ledger" },
      h(
        "caption",
        {},
        interpolate(
          gettext(
            "{made} holes made; sealed under {under}, sealed over {over}. Cable holes {cableHoles}, " +
              "sealed {cableHolesSealed}.",
          ),
          { made, under, over, cableHoles, cableHolesSealed: cableHolesSealed ?? "–" },
        ),
        unused
          ? interpolate(gettext(" Unused {unused}, patched {patched}."), { unused, patched: patched ?? 0 })
          : "",
      ),
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          [gettext("Where"), gettext("Made"), gettext("Under"), gettext("Over")].map((word, place) =>
            h("th", { scope: "col", class: place ? "end" : "" }, word),
          ),
        ),
      ),
      h(
        "tbody",
        {},
        count.groups.map((group) =>
          h(
            "tr",
            {},
            h("th", { scope: "row" }, group.title[0].toUpperCase() + group.title.slice(1)),
            cell(group.made),
            cell(group.under),
            cell(group.over),
          ),
        ),
      ),
    ),
    count.sentences.length
      ? lines(count.sentences.map((words) => `${words}.`))
      : h("p", {}, icon("check-lg"), gettext(" Every hole is sealed under and over.")),
  );
}
