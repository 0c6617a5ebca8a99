// Says a phase and a length of time, by our clock.
import { gettext, interpolate } from "../language.js";
import { hoursOf } from "../rules/clocks.js";
import { link } from "../sending/link.js";

// Our clock, as far as it was measured.
export const now = () => Date.now() + (link.offset_ms ?? 0);

export const phaseWords = (view, letter) => {
  const phase = view.job.phases.find((one) => one.letter === letter);
  return phase ? `${letter} ${phase.title}` : letter;
};

export const lengthWords = (span) => {
  const minutes = Math.round(hoursOf(span, now()) * 60);
  return interpolate(gettext("{floor} h {padStart} min"), {
    floor: Math.floor(minutes / 60),
    padStart: String(minutes % 60).padStart(2, "0"),
  });
};
