// A hold at its step: shut or passed, and what keeps it shut, each with the thing it is about.
import { h, icon } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { rowTitle } from "./pages.js";

export function hold(view, found) {
  const mark = view.mark(found);
  if (!found.is_hold || !mark.holdState) return "";
  const isShut = mark.holdState === "shut";
  const isLet = mark.holdState === "let";
  const passed = isLet ? gettext(" Overridden by the owner") : gettext(" Hold passed");
  return h(
    "section",
    { class: `sheet hold hold-${isShut ? "shut" : "open"}` },
    h(
      "h2",
      {},
      icon(isShut ? "lock" : isLet ? "flag" : "unlock"),
      isShut ? gettext(" Hold not passed") : passed,
    ),
    isShut
      ? h(
          "ul",
          { class: "link-list" },
          mark.items.map((item) => line(view, item)),
        )
      : "",
    mark.overrides.map((one) =>
      h(
        "p",
        {},
        interpolate(gettext("{name} overrode it: “{reason}”"), { name: one.by_name, reason: one.reason }),
        isShut ? gettext(" Something new has come up since.") : "",
      ),
    ),
  );
}

function line(view, item) {
  const step = view.stepByPk.get(item.step);
  const about = step?.subject ? h("strong", {}, ` ${rowTitle(step)}:`) : "";
  const words = ` ${item.sentence}${item.canBeOverridden ? "" : gettext(" (cannot be overridden)")}`;
  return h(
    "li",
    {},
    h(
      "a",
      { href: `#/job/${view.pk}/step/${item.step}` },
      h("span", { class: "id" }, step?.code ?? ""),
      about,
      words,
    ),
  );
}
