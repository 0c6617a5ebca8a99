// What the plan expects of a field that takes no number: the planned choice in its words, planned text, the
// part whose serial is asked for.
import { h } from "../../dom.js";
import { gettext } from "../../language.js";

export function expectedLine(at) {
  const [word, value] = expected(at);
  return value ? h("p", { class: "field-band" }, `${word} `, h("strong", {}, value)) : "";
}

// [word, what is expected]; empty where nothing is.
export function expected({ view, step, spec, mark }) {
  const label = (key) => spec.choices.find(([own]) => own === key)?.[1] ?? String(key);
  const planned = mark?.expected ?? spec.expected ?? "";
  if (spec.kind === "serial") return [gettext("Planned part"), partOf(view, step)];
  if (spec.kind !== "choice") return [gettext("Expected"), String(planned)];
  if (planned !== "") return [gettext("Expected"), label(planned)];
  const accepted = (spec.accept ?? []).map(label);
  return [accepted.length === 1 ? gettext("Expected") : gettext("Accepted"), accepted.join(gettext(" or "))];
}

// The model the plan names for the thing of this step.
const partOf = (view, step) =>
  (view.job.facts.equipment ?? []).find((row) => row.code === step.code && row.subject === step.subject)
    ?.model ?? "";
