// What is asked about hours: a clock nobody stopped, and hours by hand over others of the same person.
import { clock, dayClock, h } from "../dom.js";
import { gettext, interpolate } from "../language.js";
import { isAsked, overlaps } from "../rules/clocks.js";
import { byHand } from "./hours_by_hand.js";
import { now, phaseWords } from "./hours_words.js";
import { notice } from "./parts.js";

export const doubts = (view, all) => [
  ...all.filter((span) => isAsked(span, now())).map((span) => question(view, span)),
  ...overlaps(all, now()).map((both) => shared(view, both)),
];

// A clock nobody stopped: what it ran is kept, the hand says when the work ended.
function question(view, span) {
  const ran = span.end === null ? gettext("has been running since") : gettext("ran very long, from");
  return h(
    "div",
    { class: "notice notice-warning" },
    h(
      "p",
      {},
      h("strong", {}, span.name),
      interpolate(gettext(": the clock in {phaseWords} {ran} "), {
        phaseWords: phaseWords(view, span.phase),
        ran,
      }),
    ),
    h("p", {}, `${dayClock(span.start)}. When did the work end?`),
    byHand(view, span, gettext("Forgot to stop"), true),
  );
}

// Hours by hand that lie over others of the same person: which of the two is right, a person says.
function shared(view, both) {
  const [one, other] = both.map((span) =>
    interpolate(gettext("{phaseWords}, {when} to {until}"), {
      phaseWords: phaseWords(view, span.phase),
      when: dayClock(span.start),
      until: span.end === null ? gettext("now") : clock(span.end),
    }),
  );
  const words = gettext("{name}: hours overlap: {one}; and {other}. Put one of them right below.");
  return notice("warning", "clock-history", interpolate(words, { name: both[0].name, one, other }));
}
