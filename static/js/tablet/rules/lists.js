// Fields with a list: lines ticked one by one, and several of a choice. The value holds the ticked keys in
// the order of the list, "none" where none of several is; the same as checklists/rules/{fields,entries}.py.

export const NONE = "none";
export const isList = (spec) => spec.kind === "lines" || spec.kind === "several";
export const pairsOf = (spec) => (spec.lines?.length ? spec.lines : (spec.choices ?? []));

// Return what is ticked: its keys.
export const keysOf = (value) =>
  value === null || value === undefined || value === "" ? [] : String(value).split(",");

// Return the value for these keys, in the order of the list.
export function listValue(spec, keys) {
  if (spec.kind === "several" && keys.includes(NONE)) return NONE;
  return pairsOf(spec)
    .map(([key]) => key)
    .filter((key) => keys.includes(key))
    .join(",");
}

// Return what is wrong with a value; empty when nothing is.
export function listProblem(spec, value) {
  if (spec.kind === "several" && value === NONE) return "";
  if (typeof value !== "string" || !value) return `${spec.label}: nothing was ticked.`;
  const words = new Map(pairsOf(spec));
  const ticked = keysOf(value);
  const unknown = ticked.find((key) => !words.has(key));
  if (unknown !== undefined) return `${spec.label}: ${unknown} is not on the list.`;
  const keys = [...words.keys()];
  if (value !== keys.filter((key) => ticked.includes(key)).join(","))
    return `${spec.label}: each line once, in the order of the list.`;
  const first = keys.find((key) => !ticked.includes(key));
  if (spec.ordered && first !== undefined && value !== keys.slice(0, ticked.length).join(","))
    return `${spec.label}: “${words.get(first)}” comes first.`;
  return "";
}

// Return the first line that is not ticked, null where all are.
export function unticked(spec, value) {
  const ticked = keysOf(value);
  return spec.lines?.find(([key]) => !ticked.includes(key))?.[1] ?? null;
}

// Return what is ticked in words.
export function listWords(spec, value) {
  if (spec.kind === "several" && value === NONE) return spec.none_says || "None";
  const words = new Map(pairsOf(spec));
  return keysOf(value)
    .map((key) => words.get(key) ?? key)
    .join(", ");
}
