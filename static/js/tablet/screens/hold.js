// A hold at its step: shut or passed, and what keeps it shut, each with the thing it is about.
import { h, icon } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { rowTitle } from "./pages.js";

const MANY = 12;

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
    isShut ? items(view, mark.items) : "",
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

// What is wrong comes before what is only missing; a long list is one tap further.
function items(view, found) {
  const isWrong = ({ step }) => ["conflict", "fail"].includes(view.mark(view.stepByPk.get(step)).mark);
  const all = [...found.filter(isWrong), ...found.filter((item) => !isWrong(item))];
  const list = (some) =>
    h(
      "ul",
      { class: "link-list" },
      some.map((item) => line(view, item)),
    );
  if (all.length <= MANY) return list(all);
  const rest = all.slice(MANY);
  return [list(all.slice(0, MANY)), h("details", {}, h("summary", {}, `${rest.length} more`), list(rest))];
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
