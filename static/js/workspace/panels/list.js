// The list of panels beside the roof, and the buttons that wire the chosen ones.

import { by, element } from "../dom.js";

export function showPanels(layout, chosen, parts, choose) {
  by("ws-none").hidden = layout.panels.length > 0;
  const list = by("ws-list");
  const focused = list.contains(document.activeElement) ? document.activeElement.id : "";
  const stringOf = new Map(
    layout.strings.flatMap((one, place) => one.panels.map((panel) => [panel, `string ${place + 1}`])),
  );
  list.replaceChildren(
    ...layout.panels.map((panel) => {
      const line = element("li", "", "form-check");
      const box = element("input", "", "form-check-input");
      Object.assign(box, {
        type: "checkbox",
        id: `ws-panel-${panel.number}`,
        checked: chosen.includes(panel.number),
      });
      box.addEventListener("change", () => choose(panel.number, box.checked));
      const label = element("label", "", "form-check-label");
      label.htmlFor = box.id;
      label.append(
        element("strong", `${panel.number}`),
        ` ${parts.get(panel.part).name}, ${stringOf.get(panel.number) ?? "not in a string"}`,
      );
      line.append(box, label);
      return line;
    }),
  );
  if (focused) by(focused)?.focus();
}

export function showWiring(labels, count, act) {
  const buttons = labels.map((label) => {
    const made = element("button", `Wire chosen as a string on ${label}`, "btn btn-secondary btn-sm");
    made.addEventListener("click", () => act(label));
    return made;
  });
  const loose = element("button", "Unwire chosen", "btn btn-secondary btn-sm");
  loose.addEventListener("click", () => act(null));
  for (const one of [...buttons, loose]) Object.assign(one, { type: "button", disabled: !count });
  const place = by("ws-wire");
  if (place.childElementCount !== labels.length + 1) place.replaceChildren(...buttons, loose);
  else for (const one of place.children) one.disabled = !count;
}
