// What the layers of shade share: a switch, and a string's line as the plan draws it.

// A button that switches a layer and its words on and off.
export function layerSwitch(button, section, onChange) {
  button.addEventListener("click", () => {
    const isOn = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(isOn));
    section.hidden = !isOn;
    onChange(isOn);
  });
}

// The color and line pattern of a panel's string, as the plan draws it.
export function styleOf(stage, panel) {
  const frame = stage.groups.get(panel)?.querySelector("rect[stroke]");
  return {
    colour: frame?.getAttribute("stroke") ?? "currentColor",
    pattern: frame?.getAttribute("stroke-dasharray") ?? "",
  };
}

// A short piece of a string's line, to stand beside its name.
export function sample(stage, panel) {
  const { colour, pattern } = styleOf(stage, panel);
  const svg = stage.node("svg", { class: "ws-sample", viewBox: "0 0 300 60", "aria-hidden": "true" });
  const line = { x1: 0, y1: 30, x2: 300, y2: 30, stroke: colour, "stroke-width": 22 };
  svg.append(stage.node("line", pattern ? { ...line, "stroke-dasharray": pattern } : line));
  return svg;
}
