// What is still open before Go: every item once, by the circuit, panel or battery it is about, with its step.
import { h, icon } from "../dom.js";
import { gettext } from "../language.js";
import { rowTitle } from "./pages.js";

const ROLES = ["open_items", "papers_read", "schedule_read", "go"];

export function openList(view, step) {
  if (!ROLES.includes(step.role) || !step.is_in_scope) return "";
  const found = openBefore(view);
  return h(
    "section",
    { class: "sheet open-list" },
    h("h2", {}, found.size ? gettext("Still open before Go") : gettext("Nothing is open before Go")),
    [...found].map(([about, items]) => [
      about ? h("h3", {}, about) : "",
      h(
        "ul",
        { class: "link-list" },
        items.map((item) => line(view, item)),
      ),
    ]),
  );
}

// Map of what the items are about ("Circuit C2 …", "" for the job as a whole) → [{ step, sentence }], from
// every hold up to Go; a hold that only waits for an earlier one says nothing of its own.
export function openBefore(view) {
  const go = view.inScope.findIndex((step) => step.role === "go");
  const holds = view.inScope.slice(0, go + 1).filter((step) => step.is_hold);
  const seen = new Set();
  const found = new Map();
  for (const hold of holds)
    for (const item of view.mark(hold).items ?? []) {
      const step = view.stepByPk.get(item.step);
      const key = `${item.step} ${item.sentence}`;
      if (seen.has(key) || (step?.is_hold && step !== hold)) continue;
      seen.add(key);
      const about = step?.subject ? aboutOf(step) : "";
      found.set(about, [...(found.get(about) ?? []), { step, sentence: item.sentence }]);
    }
  return new Map([...found].sort(([one], [other]) => (one < other ? -1 : 1)));
}

// "circuit:C2" of a step named "Wire length: C2 …" → "Circuit C2 …".
function aboutOf(step) {
  const [kind, name] = step.subject.split(":");
  const title = rowTitle(step);
  const word = kind[0].toUpperCase() + kind.slice(1);
  return title.toLowerCase().startsWith(kind)
    ? title
    : title.includes(name)
      ? `${word} ${title}`
      : `${word} ${name}: ${title}`;
}

const line = (view, { step, sentence }) =>
  h(
    "li",
    {},
    h(
      "a",
      { href: `#/job/${view.pk}/step/${step?.pk ?? ""}` },
      icon("exclamation-triangle"),
      h("span", { class: "id" }, ` ${step?.code ?? ""}`),
      ` ${sentence}`,
    ),
  );
