// Says a phase and a length of time.
import { gettext, interpolate } from "../language.js";

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
