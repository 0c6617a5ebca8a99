// Makes parts of a drawing: s("rect", { x, y, width, height }).
const SVG = "http://www.w3.org/2000/svg";

export function s(tag, facts = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(facts)) {
    if (value === undefined || value === null) continue;
    element.setAttribute(name, typeof value === "number" ? String(Math.round(value * 100) / 100) : value);
  }
  element.append(...children.flat(Infinity).filter((child) => child !== ""));
  return element;
}

// A drawing made by our server, as a picture inside another one: nothing in it can run.
export function drawnPicture(svg) {
  const [x, y, width, height] = /viewBox="([^"]+)"/.exec(svg)[1].split(/\s+/).map(Number);
  const href = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(svg)}`;
  return { area: { x, y, width, height }, element: s("image", { x, y, width, height, href }) };
}
