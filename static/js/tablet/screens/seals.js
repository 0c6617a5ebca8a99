// The count of holes, foot by foot: made, sealed under, sealed over, with the plan beside it.
import { h, icon, picture } from "../dom.js";
import { recordValue } from "../record.js";
import { NOTHING } from "../reducer.js";
import { openPad } from "./pad.js";
import { jobHead, lines, saving } from "./parts.js";

export function seals(view) {
  const groups = sides(view);
  return h(
    "div",
    {},
    jobHead(view, "Seal count"),
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
            h("h2", {}, "Roof plan"),
            picture(view.job.plan_svg, "Roof plan with panels, feet and gland"),
          )
        : "",
    ),
  );
}

// The panels and the gland box with their steps "under" and "over".
function sides(view) {
  const of = (code, subject) => view.inScope.find((step) => step.code === code && step.subject === subject);
  const groups = (view.rules.seals?.groups ?? []).map(({ name, title }) => ({
    title: title[0].toUpperCase() + title.slice(1),
    subject: name === "gland" ? "gland:box" : `panel:${name}`,
  }));
  return groups
    .map((group) => ({ ...group, under: of("D3", group.subject), over: of("D7", group.subject) }))
    .filter((group) => group.under || group.over);
}

function footRows(view, group) {
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, group.title),
    [
      ["Under", group.under],
      ["Over", group.over],
    ].map(([side, step]) =>
      step
        ? h(
            "div",
            {},
            h("h3", { class: "seal-side" }, `Sealed ${side.toLowerCase()}`),
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
    .map((spec) => {
      const found = view.state(step).fields[spec.name] ?? NOTHING;
      const words = spec.name.startsWith("foot_") ? `Foot ${spec.name.slice(5)}` : "Screws";
      const isWhole = found.value === spec.tick;
      const state = found.isConflict
        ? "two counts"
        : found.value === null
          ? `0 of ${spec.tick}`
          : `${found.value} of ${spec.tick}`;
      const open = () =>
        openPad({ view, step, spec, found, canRecord: true, mark: view.mark(step).fields[spec.name] }, save);
      const save = async (_, value, cause) => {
        saving(document.querySelector(`[data-key="seal-${step.pk}-${spec.name}"]`));
        await recordValue(view, step, spec, value, cause);
        dispatchEvent(new HashChangeEvent("hashchange"));
      };
      const whole = () =>
        found.value === null && !found.isConflict
          ? save(null, spec.whole ? Math.trunc(spec.tick) : spec.tick, "")
          : open();
      return h(
        "button",
        {
          class: `foot-cell${isWhole ? " foot-done" : ""}`,
          type: "button",
          disabled: !view.job.job.is_in_install,
          "data-key": `seal-${step.pk}-${spec.name}`,
          onclick: whole,
          "aria-label": `${spec.label}: ${state}${found.value === null ? `; tap records all ${spec.tick}` : "; tap changes it"}`,
        },
        h("span", {}, words),
        h("strong", {}, isWhole ? icon("check-lg") : "", ` ${state}`),
      );
    });
}

export function sealTable(view) {
  const count = view.rules.seals;
  if (!count) return h("p", { class: "empty" }, "This job makes no holes.");
  const cell = (value) => h("td", { class: "end num" }, value ?? "–");
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "region", "aria-label": "Count of holes" },
    h(
      "table",
      { class: "ledger seal-ledger" },
      h(
        "caption",
        {},
        `${count.made} holes made; sealed under ${count.under}, sealed over ${count.over}. Cable holes ${count.cableHoles}, sealed ${count.cableHolesSealed ?? "–"}.${count.unused ? ` Unused ${count.unused}, patched ${count.patched ?? 0}.` : ""}`,
      ),
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          ["Where", "Made", "Under", "Over"].map((word, place) =>
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
      : h("p", {}, icon("check-lg"), " Every hole is sealed under and over."),
  );
}
