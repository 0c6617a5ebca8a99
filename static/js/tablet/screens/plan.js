// The roof plan, large enough to read on a roof; it scrolls, and two buttons make it larger and smaller.
import { h, picture } from "../dom.js";
import { jobHead } from "./parts.js";

const SIZES = [100, 160, 240];

export function plan(view) {
  if (!view.job.plan_svg)
    return h(
      "div",
      {},
      jobHead(view, "Roof plan"),
      h("p", { class: "empty" }, "The roof is not measured, so there is no plan."),
    );
  let size = 0;
  const image = picture(view.job.plan_svg, "Roof plan with panels, feet, obstacles and gland");
  const box = h(
    "div",
    { class: "scroll plan-box", tabindex: "0", role: "region", "aria-label": "Roof plan" },
    image,
  );
  const turn = (way) => {
    size = Math.min(SIZES.length - 1, Math.max(0, size + way));
    image.className = `plan-image plan-${SIZES[size]}`;
  };
  return h(
    "div",
    {},
    jobHead(view, "Roof plan"),
    h(
      "div",
      { class: "step-end" },
      h("button", { class: "btn btn-secondary", type: "button", onclick: () => turn(1) }, "Larger"),
      h("button", { class: "btn btn-secondary", type: "button", onclick: () => turn(-1) }, "Smaller"),
      h("a", { class: "btn btn-secondary", href: `#/job/${view.pk}/seals` }, "Seal count"),
    ),
    h("section", { class: "sheet" }, box),
  );
}
