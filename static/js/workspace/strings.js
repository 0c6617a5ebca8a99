// The strings as they are, other ways to wire the same panels, and taking one as a single step.

import { sample } from "./layers.js";
import { badge, element } from "./side.js";
import { same } from "./store.js";
import { Live } from "./talk.js";

const by = (id) => document.getElementById(id);
const listed = (panels) => panels.join(" → ");
const placed = ({ strings, ...rest }) => structuredClone(rest);
const signed = (value, digits) =>
  `${value > 0 ? "+" : value < 0 ? "−" : "±"}${Math.abs(value).toFixed(digits)}`;

export function openStrings({ store, stage }) {
  const section = by("ws-strings-by-hand");
  const live = new Live(section.dataset.address, show, fail);
  const box = by("ws-worth-box"); // only for those who see prices
  let shown = null; // the answer, and where things lay then
  let asking = null;

  function own() {
    const { strings } = store.layout;
    by("ws-no-string").hidden = strings.length > 0;
    by("ws-own-strings").replaceChildren(
      ...strings.map((one, place) => {
        const line = element("li");
        line.append(
          sample(stage, one.panels[0]),
          element("span", `String ${place + 1} on ${one.controller}: ${listed(one.panels)}`),
        );
        return line;
      }),
    );
  }

  function ask() {
    asking = placed(store.layout);
    by("ws-ways-ask").disabled = true;
    by("ws-ways-said").textContent = "Trying the wirings the string rules let stand …";
    live.ask(store.layout);
  }

  function fail(words) {
    by("ws-ways-ask").disabled = false;
    by("ws-ways-said").textContent = words;
  }

  function show(got) {
    by("ws-ways-ask").disabled = false;
    if (got.error || got.reason) {
      clear();
      return fail(got.error || got.reason);
    }
    shown = { ...got, placed: asking };
    if (box && got.worth && box.hidden) {
      box.hidden = false;
      by("ws-worth").value = kept() ?? got.worth.amount;
      by("ws-worth-from").textContent = got.worth.source;
    }
    tell();
  }

  function clear() {
    shown = null;
    by("ws-ways").replaceChildren();
    by("ws-blame").hidden = by("ws-ways-basis").hidden = true;
  }

  function tell() {
    const { own: now, ways } = shown;
    by("ws-ways-said").textContent = headline(now, ways);
    by("ws-blame").hidden = !now?.blame;
    by("ws-blame").textContent = now?.blame ?? "";
    by("ws-ways").replaceChildren(...ways.map(way));
    by("ws-ways-basis").hidden = !shown.tried;
    const shares = shown.shared
      ? `${shown.shared} ways to share the panels between the controllers were compared first. `
      : "";
    by("ws-ways-basis").textContent =
      `${shares}${shown.is_complete ? "All" : "The first"} ${shown.tried} ways to make equal strings ` +
      `${shares ? "on each controller " : ""}were tried at ${shown.place}, mean of all parking directions. Under 0.3% is no difference.`;
  }

  function headline(now, ways) {
    if (shown.problem) return `No way wires all panels. ${shown.problem}`;
    if (!now) return "Nothing is wired yet. Ways to wire all panels, best year first:";
    const loose = now.loose
      ? ` ${now.loose} ${now.loose === 1 ? "panel is" : "panels are"} in no string.`
      : "";
    const best = ways.find((one) => one.verdict !== "block");
    const verdict = now.verdict === "block" ? " The string rules refuse it as it is." : "";
    if (!best)
      return `As wired: ${now.kwh} kWh a year. The string rules refuse every way with the wire chosen now.${loose}`;
    if (best.is_own || best.is_equal || best.gain_kwh <= 0)
      return `As wired: ${now.kwh} kWh a year. No way gives noticeably more.${loose}${verdict}`;
    return `As wired: ${now.kwh} kWh a year. The best way gives ${best.gain_kwh} kWh more.${loose}${verdict}`;
  }

  function way(one) {
    const line = element("li");
    const strings = one.strings.map((string) => `${string.controller}: ${listed(string.panels)}`).join(" | ");
    const head = element("p", "", "ws-way-head");
    head.append(element("strong", one.label), " ", badge(one.verdict));
    const gain =
      one.gain_kwh === null
        ? `${one.kwh} kWh a year`
        : one.is_own
          ? `${one.kwh} kWh a year, as it is now`
          : `${signed(one.gain_kwh, 1)} kWh a year${one.is_equal ? ", no difference" : money(one.gain_kwh)}`;
    line.append(head, element("p", strings, "num"), element("p", gain, "ws-gain num"));
    const needs = one.needs.length ? ` It would stand with thicker wire: ${one.needs.join(", ")}.` : "";
    if (one.why) line.append(element("p", `${one.why}.${needs}`, "small muted"));
    if (!one.is_own) line.append(takeButton(one));
    return line;
  }

  function takeButton(one) {
    const button = element("button", "Take this", "btn btn-secondary btn-sm");
    button.type = "button";
    button.setAttribute(
      "aria-label",
      `Take this: ${one.label}, ${one.strings.map((string) => listed(string.panels)).join(" and ")}`,
    );
    button.addEventListener("click", () => {
      store.change((layout) => {
        layout.strings = structuredClone(one.strings);
      });
      by("ws-ways-ask").focus();
    });
    return button;
  }

  // --- money: shown only where the shop's prices are ---

  function kept() {
    try {
      return localStorage.getItem(`coachlight-kwh-${box.dataset.currency}`);
    } catch {
      return null;
    }
  }

  function worth() {
    if (!box || box.hidden) return null;
    const text = by("ws-worth").value.trim().replace(",", ".");
    const value = text === "" ? null : Number(text);
    const ok = value === null || (value >= 0 && value <= 10);
    by("ws-worth").classList.toggle("is-invalid", !ok);
    by("ws-worth-wrong").textContent = ok
      ? ""
      : `Worth of a kWh: must be from 0 to 10 ${box.dataset.currency}.`;
    return ok ? value : null;
  }

  function money(kwh) {
    const each = worth();
    if (each === null) return "";
    const amount = Math.round(Math.abs(kwh) * each * 100 + 1e-9) / 100;
    const text = new Intl.NumberFormat("en-US", { style: "currency", currency: box.dataset.currency }).format(
      amount,
    );
    return `, ${kwh < 0 ? "−" : ""}${text} a year`;
  }

  by("ws-worth")?.addEventListener("change", () => {
    if (worth() !== null) {
      try {
        localStorage.setItem(`coachlight-kwh-${box.dataset.currency}`, by("ws-worth").value);
      } catch {
        /* private window */
      }
    }
    if (shown) tell();
  });
  by("ws-ways-ask").addEventListener("click", ask);
  store.onChange(() => {
    own();
    if (!shown) return;
    if (same(shown.placed, placed(store.layout))) return ask(); // only the wiring changed: compare anew
    clear();
    by("ws-ways-said").textContent = "The roof changed since. Look again.";
  });
  stage.element.addEventListener("drawn", own); // colours and patterns are read from the plan
  own();
}
