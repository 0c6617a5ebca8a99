// The ways from a step to the drawing it is worked from: the roof plan at its panel, the one-line drawing.
import { h, icon } from "../dom.js";
import { gettext } from "../language.js";

const ELECTRIC = ["circuit", "string", "controller", "battery", "joint", "source"];

export function drawingLinks(view, step) {
  const [word] = step.subject.split(":");
  const phase = view.job.phases.find((one) => one.letter === step.phase);
  const isElectric = ELECTRIC.includes(word) || phase?.is_inside;
  const isOnRoof = ["panel", "gland"].includes(word) || phase?.place === "roof";
  const links = [
    isOnRoof && view.job.roof ? link(view, `plan/${partOf(step)}`, "rulers", gettext("Roof plan")) : "",
    isElectric && view.job.one_line_svg
      ? link(view, "one-line", "diagram-3", gettext("One-line drawing"))
      : "",
  ];
  return links.some(Boolean) ? h("p", { class: "draw-ways" }, links) : "";
}

const partOf = ({ subject }) => (subject.startsWith("gland") ? "gland" : subject);

const link = (view, where, shape, words) =>
  h("a", { class: "btn btn-secondary", href: `#/job/${view.pk}/${where}` }, icon(shape), ` ${words}`);
