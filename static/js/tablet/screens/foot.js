// The bar below a step: one page back, all steps, a note, one page on or to the next open one.
import { h, icon } from "../dom.js";
import { gettext } from "../language.js";
import { noteButton } from "./note.js";
import { isDone, nextOpenPage, pagesOf, titleOf } from "./pages.js";

export function foot(view, page, step) {
  const pages = pagesOf(view);
  const place = pages.indexOf(page);
  const [back, on] = [pages[place - 1], pages[place + 1]];
  const next = isDone(view, page) ? nextOpenPage(view, page) : undefined;
  const none = h("span", { class: "foot-none" });
  const onward = () => {
    if (next && next !== on) return way(view, next, gettext("Next open step"), true);
    return on ? way(view, on, gettext("On to"), Boolean(next)) : none.cloneNode();
  };
  return h(
    "nav",
    { class: "foot-bar", "aria-label": gettext("Steps") },
    back ? way(view, back, gettext("Back to"), false, true) : none,
    h("a", { class: "btn btn-secondary", href: `#/job/${view.pk}` }, icon("list-check"), gettext(" Steps")),
    view.job.job.is_in_install ? noteButton(view, step) : "",
    onward(),
  );
}

function way(view, page, label, isMain = false, isBack = false) {
  return h(
    "a",
    {
      class: `btn ${isMain ? "btn-primary" : "btn-secondary"}`,
      href: `#/job/${view.pk}/step/${page.steps[0].pk}`,
      "aria-label": `${label} ${page.code} ${titleOf(page)}`,
    },
    isBack ? [icon("arrow-left"), ` ${page.code}`] : [`${page.code} `, icon("arrow-right")],
  );
}
