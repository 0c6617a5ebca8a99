// Makes elements: h("button", { class: "tick", onclick }, "words"). Text only ever becomes text nodes, and
// every quantity in it is said in the units of the shop the tablet is in.
import { gettext } from "./language.js";
import { inUnits } from "./units.js";

let units = "";
export const speakIn = (shopUnits) => {
  units = shopUnits;
};
export const said = (words) => inUnits(String(words), units);

export function h(tag, props = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "class") element.className = value;
    else if (name === "value" || name === "checked" || name === "disabled") element[name] = value;
    else element.setAttribute(name, value === true ? "" : said(value));
  }
  put(element, children);
  return element;
}

export function put(element, ...children) {
  for (const child of children.flat(Infinity)) {
    if (child === undefined || child === null || child === false || child === "") continue;
    element.append(child.nodeType ? child : document.createTextNode(said(child)));
  }
  return element;
}

const drawing = (selector) => {
  const template = document.querySelector(selector);
  return template ? template.content.firstElementChild.cloneNode(true) : document.createTextNode("");
};

export const icon = (name) => drawing(`template[data-icon="${name}"]`);

// The shell is in English, whoever opened it first; its words are said here in the language of the person.
const VERDICTS = {
  pass: gettext("Pass"),
  caution: gettext("Caution"),
  block: gettext("Block"),
  not_enough_data: gettext("Not enough data"),
};
export function verdict(name) {
  const mark = drawing(`template[data-verdict="${name}"]`);
  if (mark.lastChild && name in VERDICTS) mark.lastChild.data = VERDICTS[name];
  return mark;
}

// The roof plan is drawn by our server and parsed as an image, so that nothing in it can run.
export function picture(svg, words) {
  const image = h("img", { alt: words, class: "plan-image" });
  image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(said(svg))}`;
  return image;
}

// Says a sentence to somebody who cannot see the page.
export function tell(words) {
  const news = document.getElementById("news");
  news.textContent = "";
  requestAnimationFrame(() => {
    news.textContent = said(words);
  });
}

// Times and days as papers print them in the language of the page: 2:05 PM, Nov 30, 2:05 PM.
const spoken = () => document.documentElement.lang || "en-US";

export const clock = (at) =>
  new Date(at).toLocaleTimeString(spoken(), { hour: "numeric", minute: "2-digit" }).replaceAll("\u202f", " ");

export const dayClock = (at) => {
  const when = new Date(at);
  const isToday = when.toDateString() === new Date().toDateString();
  return isToday
    ? clock(at)
    : `${when.toLocaleDateString(spoken(), { month: "short", day: "numeric" })}, ${clock(at)}`;
};
