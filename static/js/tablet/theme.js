// Three looks of the tablet: day, glare (black on white, no grays, twice the weight) and night; the next one
// is a tap in the bar away. Kept on this device.
import { h, icon, tell } from "./dom.js";
import { gettext, interpolate } from "./language.js";

const KEY = "theme";
const LOOKS = {
  day: [gettext("Day"), "sun"],
  glare: [gettext("Glare"), "brightness-high"],
  night: [gettext("Night"), "moon"],
};
const NAMES = Object.keys(LOOKS);

export const theme = () => (NAMES.includes(localStorage.getItem(KEY)) ? localStorage.getItem(KEY) : "day");

export function putOn(name = theme()) {
  document.body.dataset.theme = name;
}

// The button shows the look that is on; a tap puts on the next one.
export function themeButton() {
  const [words, shape] = LOOKS[theme()];
  const next = NAMES[(NAMES.indexOf(theme()) + 1) % NAMES.length];
  const turn = ({ currentTarget }) => {
    localStorage.setItem(KEY, next);
    putOn(next);
    currentTarget.replaceWith(themeButton());
    document.querySelector(".bar-theme")?.focus();
    tell(interpolate(gettext("{part} colors"), { part: LOOKS[next][0] }));
  };
  return h(
    "button",
    {
      class: "bar-theme",
      type: "button",
      onclick: turn,
      "aria-label": interpolate(gettext("Colors: {words}; tap for {toLowerCase}"), {
        words,
        toLowerCase: LOOKS[next][0].toLowerCase(),
      }),
    },
    icon(shape),
    h("span", {}, words),
  );
}
