// The roof plan to work from: feet with their numbers, panels and gland with the distances from two edges.
// The full drawing with wire and ways to walk stands below it.
import { h, icon } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { drawnPicture } from "../svg.js";
import { jobHead } from "./parts.js";
import { areaOf, middleIn, roofParts, thingsOf } from "./roof_drawing.js";
import { zoomBox } from "./zoom.js";

// What was chosen last at an address.
const chosenAt = new Map();

export function plan(view, part) {
  const { roof } = view.job;
  const head = jobHead(view, gettext("Roof plan"));
  if (!roof) return h("div", {}, head, whole(view) || nothing());
  const things = thingsOf(roof);
  const byKey = (key) => things.find((one) => one.key === key);
  const wanted = [chosenAt.get(location.hash), part, things.find((one) => one.kind === "panel")?.key];
  const at = { chosen: wanted.find((key) => key && byKey(key)) };
  const facts = h("div", { role: "status" });
  const ways = h("div", { class: "zoom-bar", role: "group", "aria-label": gettext("Show the measures of") });
  const choose = (key) => {
    at.chosen = key;
    chosenAt.set(location.hash, key);
    facts.replaceChildren(measures(byKey(key)));
    for (const one of ways.children) one.setAttribute("aria-pressed", String(one.dataset.key === key));
    box.redraw();
  };
  const box = zoomBox({
    label: interpolate(gettext("Roof plan, {size}, front to the right"), { size: roof.size }),
    area: areaOf(roof),
    focus: () => (at.chosen ? middleIn(roof, byKey(at.chosen)) : null),
    draw: (unit) => roofParts(roof, unit, at.chosen, choose),
  });
  ways.append(...chooseable(things).map((one) => wayTo(one, choose)));
  if (at.chosen) choose(at.chosen);
  return h("div", {}, head, onRoof(view, roof), box.element, ways, facts, overview(things), whole(view));
}

const nothing = () => h("p", { class: "empty" }, gettext("The roof is not measured, so there is no plan."));

const chooseable = (things) => [
  ...things.filter((one) => one.kind === "panel"),
  ...things.filter((one) => one.kind === "gland"),
  ...things.filter((one) => one.kind === "thing"),
];

const wayTo = (one, choose) =>
  h(
    "button",
    {
      class: "btn btn-secondary zoom-way",
      type: "button",
      "data-key": one.key,
      "aria-pressed": "false",
      onclick: () => choose(one.key),
    },
    one.title,
  );

const onRoof = (view, roof) => [
  h(
    "p",
    {},
    interpolate(
      gettext("Roof {size}. Distances run from the rear edge and from the right edge of the flat roof."),
      { size: roof.size },
    ),
  ),
  roof.rafters ? h("p", {}, `${roof.rafters}.`) : "",
  h(
    "p",
    {},
    h(
      "a",
      { class: "btn btn-secondary", href: `#/job/${view.pk}/seals` },
      icon("check2-circle"),
      gettext(" Seal count"),
    ),
  ),
];

function measures(one) {
  const rows = [
    [gettext("From the rear edge"), one.from_rear],
    [gettext("From the right edge"), one.from_right],
    [gettext("Size, along × across"), one.size],
    [gettext("Height"), one.height],
    [gettext("Wired in"), one.wired],
    [gettext("Screws in each foot"), one.screws],
  ].filter(([, value]) => value);
  return h(
    "section",
    { class: "sheet", "aria-label": interpolate(gettext("Measures of {title}"), { title: one.title }) },
    h("h2", {}, one.kind === "panel" ? `${one.title}, ${one.name}` : one.title),
    h(
      "dl",
      { class: "facts" },
      rows.map(([label, value]) => [h("dt", {}, label), h("dd", {}, h("strong", {}, String(value)))]),
    ),
    one.feet?.length
      ? table(
          gettext("Feet"),
          [gettext("Foot"), gettext("From the rear"), gettext("From the right")],
          one.feet.map((foot, place) => [place + 1, foot.from_rear, foot.from_right]),
        )
      : "",
  );
}

const overview = (things) =>
  h(
    "section",
    { class: "sheet" },
    table(
      gettext("Everything on the roof"),
      [
        gettext("What"),
        gettext("From the rear"),
        gettext("From the right"),
        gettext("Size"),
        gettext("Height"),
      ],
      chooseable(things).map((one) => [
        one.title,
        one.from_rear,
        one.from_right,
        one.size ?? "–",
        one.height ?? "–",
      ]),
    ),
  );

function table(name, heads, rows) {
  return h(
    "div",
    { class: "scroll", tabindex: "0", role: "region", "aria-label": name },
    h(
      "table",
      { class: "ledger" },
      h("caption", {}, name),
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          heads.map((word) => h("th", { scope: "col" }, word)),
        ),
      ),
      h(
        "tbody",
        {},
        rows.map(([first, ...others]) =>
          h(
            "tr",
            {},
            h("th", { scope: "row" }, String(first)),
            others.map((cell) => h("td", {}, cell)),
          ),
        ),
      ),
    ),
  );
}

function whole(view) {
  if (!view.job.plan_svg) return "";
  const { area, element } = drawnPicture(view.job.plan_svg);
  const box = zoomBox({
    label: gettext("Roof plan with strings, wire and ways to walk"),
    area,
    draw: () => [element],
  });
  return h(
    "section",
    { class: "sheet" },
    h("h2", {}, gettext("With strings, wire and ways to walk")),
    box.element,
  );
}
