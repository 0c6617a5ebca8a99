// Pieces that several views share: the head of a job's pages, the shape and word of a mark, when and by whom.
import { dayClock, h, icon, put } from "../dom.js";
import { gettext, interpolate } from "../language.js";

const MARKS = {
  ok: ["check-lg", gettext("done"), "done"],
  blank: ["check-lg", gettext("nothing asked"), "done"],
  missing: ["chevron-right", gettext("to do"), "open"],
  begun: ["pencil", gettext("begun"), "begun"],
  caution: ["exclamation-triangle", gettext("done, with a caution"), "caution"],
  fail: ["x-octagon", gettext("out of band"), "failed"],
  conflict: ["question-circle", gettext("two values"), "conflict"],
  shut: ["lock", gettext("hold not passed"), "shut"],
  passed: ["unlock", gettext("hold passed"), "passed"],
  let: ["flag", gettext("overridden by the owner"), "let"],
};

export function stepState(view, step) {
  const found = view.mark(step);
  const isBegun = Object.values(view.state(step).fields).some((one) => one.standing.length);
  const name = found.holdState ?? (found.mark === "missing" && isBegun ? "begun" : found.mark);
  const [shape, words, style] = MARKS[name];
  return { style, element: h("span", { class: "step-state" }, icon(shape), " ", words) };
}

export function jobHead(view, title, ...more) {
  const { job } = view.job;
  return h(
    "div",
    { class: "step-head" },
    h(
      "p",
      { class: "step-where" },
      h("a", { href: `#/job/${view.pk}` }, h("span", { class: "id" }, job.number), ` ${job.vehicle}`),
    ),
    h("h1", { tabindex: "-1" }, title),
    more,
  );
}

// "Bob Test, 14:05, saved here" · what is true of one event and no more; ``design`` is the revision of today
export function whoWhen(event, design = event.design_number) {
  const fate = event.is_held
    ? gettext("held for review")
    : event.is_local
      ? gettext("saved here")
      : gettext("sent");
  const at = event.done_at ?? event.at ?? event.received_at;
  return h(
    "span",
    { class: "tick-by" },
    [
      event.by_name,
      at ? dayClock(at) : "",
      fate,
      event.design_number === design
        ? ""
        : interpolate(gettext("done on revision {number}"), { number: event.design_number }),
    ]
      .filter(Boolean)
      .join(", "),
  );
}

// Answers a tap at once and claims nothing: "saved here" stands only when it is written down.
export function saving(control) {
  if (!control) return;
  control.setAttribute("aria-busy", "true");
  control.append(h("span", { class: "saving" }, gettext("saving …")));
}

export const lines = (words, props = {}) =>
  h(
    "ul",
    props,
    words.map((text) => h("li", {}, text)),
  );

export function notice(kind, shape, ...children) {
  return h("div", { class: `notice notice-${kind}` }, put(h("p", {}), icon(shape), " ", children));
}
