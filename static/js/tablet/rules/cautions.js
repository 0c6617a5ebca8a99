// Which checks of circuits are a caution or lack data, as they stand now: the office's answer, set right by
// what was recorded here. The same as checklists/rules/cautions.py.
import { readerNow } from "./as_built.js";

const WORDS = { caution: "caution", not_enough_data: "not enough data" };
const START = "circuit:";

// Returns { name, words } of each, in the order of their keys.
export function circuitCautions(job, state) {
  const stored = job.circuit_cautions ?? [];
  const reader = readerNow(job, state);
  if (!reader) return stored;
  const found = new Map(stored.map((each) => [each.key, each]));
  for (const tables of job.sums.checks) {
    const { key } = tables;
    if (!key.startsWith(START) || key.includes("#")) continue;
    const check = reader.check(tables);
    if (check?.isAsked) continue; // as the office last knew it; the go stays shut for it elsewhere
    if (check && check.verdict in WORDS) found.set(key, told(key, check));
    else found.delete(key);
  }
  return [...found.values()].sort((one, other) => (one.key < other.key ? -1 : 1));
}

function told(key, check) {
  const name = key.slice(START.length).replaceAll("/", "_");
  const circuit = key.slice(START.length).split("/")[0];
  return { key, name, words: `${circuit}, ${check.title}: ${WORDS[check.verdict]}` };
}
