// Pieces that several views share: the head of a job's pages, the shape and word of a mark, when and by whom.
import { dayClock, h, icon, put } from "../dom.js";

const MARKS = {
  ok: ["check-lg", "done", "done"],
  blank: ["check-lg", "nothing asked", "done"],
  missing: ["chevron-right", "to do", "open"],
  begun: ["pencil", "begun", "begun"],
  caution: ["exclamation-triangle", "done, with a caution", "caution"],
  fail: ["x-octagon", "out of band", "failed"],
  conflict: ["question-circle", "two values", "conflict"],
  shut: ["lock", "hold not passed", "shut"],
  passed: ["unlock", "hold passed", "passed"],
  let: ["flag", "overridden by the owner", "let"],
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
  const fate = event.is_held ? "held for review" : event.is_local ? "saved here" : "sent";
  const at = event.done_at ?? event.at ?? event.received_at;
  return h(
    "span",
    { class: "tick-by" },
    [
      event.by_name,
      at ? dayClock(at) : "",
      fate,
      event.design_number === design ? "" : `done on revision ${event.design_number}`,
    ]
      .filter(Boolean)
      .join(", "),
  );
}

// Answers a tap at once and claims nothing: "saved here" stands only when it is written down.
export function saving(control) {
  if (!control) return;
  control.setAttribute("aria-busy", "true");
  control.append(h("span", { class: "saving" }, "saving …"));
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
