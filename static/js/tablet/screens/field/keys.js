// A value that names several keys, joined by commas in the order of the list.
export const keysOf = (value) =>
  typeof value === "string" && value !== "none" ? value.split(",").filter(Boolean) : [];

export const joined = (list, chosen) =>
  list
    .map(([key]) => key)
    .filter((key) => chosen.has(key))
    .join(",");

export const withLine = (spec, value, key) => joined(spec.lines, new Set([...keysOf(value), key]));

// The first line that is not ticked yet.
export const nextLine = (spec, value) => {
  const done = keysOf(value);
  return spec.lines.find(([key]) => !done.includes(key))?.[0];
};
