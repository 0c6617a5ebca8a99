// Everything that was recorded at a step; nothing is deleted.
import { h, icon } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { whoWhen } from "./parts.js";

export function history(view, steps) {
  const own = new Set(steps.map((step) => step.pk));
  const all = [...view.events.values()].filter((event) => own.has(event.step));
  if (!all.length) return "";
  all.sort((one, other) => ((one.done_at ?? one.at) < (other.done_at ?? other.at) ? -1 : 1));
  const fields = new Map(
    steps.flatMap((step) => view.fields(step).map((spec) => [`${step.pk} ${spec.name}`, spec])),
  );
  const specOf = (event) => event && fields.get(`${event.step} ${event.field}`);
  const about = (event) => {
    const step = view.stepByPk.get(event.step);
    return steps.length > 1 && step.subject ? `${step.title.split(": ").slice(1).join(": ")}: ` : "";
  };
  return h(
    "details",
    { class: "history" },
    h("summary", {}, icon("clock-history"), gettext(" History")),
    h(
      "ul",
      {},
      all.map((event) => h("li", {}, about(event), words(view, event, specOf), whoWhen(event))),
    ),
  );
}

function words(view, event, specOf) {
  if (event.verb === "undo") {
    const label = specOf(view.events.get(event.undoes))?.label ?? gettext("a value");
    return interpolate(gettext("Took back {label}"), { label });
  }
  if (event.verb === "note") return interpolate(gettext("Note: {value}"), { value: event.value });
  if (event.verb === "safety")
    return interpolate(gettext("Safety lines read on {value}"), { value: event.value });
  const spec = specOf(event);
  const why = event.cause ? ` (${event.cause})` : "";
  const isOfNow = event.design_number === view.job.design_number;
  const design = isOfNow
    ? ""
    : interpolate(gettext(", on design {design_number}"), { design_number: event.design_number });
  return `${spec?.label ?? event.field}: ${view.say(spec, event)}${why}${design}`;
}
