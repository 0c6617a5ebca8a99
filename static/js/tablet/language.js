// Says the tablet's own words in the language its person chose: gettext("words"), ngettext for one and many,
// interpolate(text, { name }) for the parts. Which language is on is read before anything is drawn, so that
// lists of words made once are right too; to turn it, the page is opened anew.
import es from "./catalog/es.js";
import { saidAs } from "./says.js";

const KEY = "language";
const SOURCE = "en-us";
const CATALOGS = { es };
export const LANGUAGES = { [SOURCE]: "English", es: "Español" };

const kept = () => globalThis.localStorage?.getItem(KEY);
export const language = kept() in LANGUAGES ? kept() : SOURCE;
const { strings, sentences } = CATALOGS[language] ?? { strings: {}, sentences: [] };
if (globalThis.document) document.documentElement.lang = language;

const edges = (text) => /^(\s*)([\s\S]*?)(\s*)$/.exec(text).slice(1);

export function gettext(text) {
  const [before, words, after] = edges(text);
  return `${before}${strings[words] ?? words}${after}`;
}

export function ngettext(one, many, count) {
  const [before, words, after] = edges(one);
  const forms = strings[words] ?? [words, edges(many)[1]];
  return `${before}${forms[count === 1 ? 0 : 1]}${after}`;
}

export const interpolate = (text, parts) =>
  text.replace(/\{(\w+)\}/g, (whole, name) => (name in parts ? String(parts[name]) : whole));

// What steps and rules say, by the texts that came with a job: ours in this language, or the shop's own.
const NONE = {};
const known = new WeakMap();
export function saysOf(job) {
  const texts = job?.says?.[language] ?? NONE;
  if (!known.has(texts)) known.set(texts, saidAs(texts, sentences));
  return known.get(texts);
}

// The choice is each person's own on this tablet; until there is one, the office's setting of the person.
const keyOf = (person) => `${KEY}/${person?.id ?? ""}`;

export function choose(name, person) {
  localStorage.setItem(keyOf(person), name);
  turnTo(name);
}

// A language chosen before it was known who holds the tablet is the choice of the first who is known.
export function followPerson(person) {
  const early = localStorage.getItem(keyOf());
  if (early) localStorage.setItem(keyOf(person), early);
  localStorage.removeItem(keyOf());
  turnTo(localStorage.getItem(keyOf(person)) ?? person?.language);
}

function turnTo(name) {
  if (!(name in LANGUAGES) || name === language) return;
  localStorage.setItem(KEY, name);
  location.reload();
}
