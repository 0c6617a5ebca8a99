// The one-line drawing of the electric side, as on the job sheet; its circuits stand in the schedule.
import { h, icon } from "../dom.js";
import { gettext } from "../language.js";
import { drawnPicture } from "../svg.js";
import { jobHead } from "./parts.js";
import { zoomBox } from "./zoom.js";

export function oneLine(view) {
  const head = jobHead(view, gettext("One-line drawing"));
  if (!view.job.one_line_svg)
    return h(
      "div",
      {},
      head,
      h(
        "p",
        { class: "empty" },
        gettext("Take the job again while you have a network: the drawing came later."),
      ),
    );
  const { area, element } = drawnPicture(view.job.one_line_svg);
  const box = zoomBox({
    label: gettext("One-line drawing: what feeds the bus and what it feeds"),
    area,
    draw: () => [element],
  });
  return h(
    "div",
    {},
    head,
    h("section", { class: "sheet" }, box.element),
    h(
      "p",
      {},
      h(
        "a",
        { class: "btn btn-secondary", href: `#/job/${view.pk}/circuits` },
        icon("lightning-charge"),
        gettext(" Circuit schedule"),
      ),
    ),
  );
}
