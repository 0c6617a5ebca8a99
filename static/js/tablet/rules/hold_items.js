// What single hold points look at beside the fields of their phase: holes, serials, batteries, the go,
// signatures.
import { stepAt, valueAt } from "../steps.js";
import { fixed } from "../words.js";
import { changeSentence } from "./after_go.js";
import { specsOf } from "./fields.js";
import { fieldOf } from "./judging.js";
import { plain } from "./plain.js";
import { sealCount } from "./seals.js";

const REST_SPREAD_V = 0.05;
// The second person did not do the work of these phases alone.
const WIRING = ["home_run", "battery", "inverter", "inside_runs", "battery_dc", "ac_wiring"];
const PART_WORDS = {
  technician: "The technician",
  owner: "The owner",
  licensed: "The licensed person",
  customer: "The customer",
};

export const item = (step, sentence, canBeOverridden = true) => ({ step, sentence, canBeOverridden });

// The role of a hold → what it looks at; ``holds`` is the job's Holds, ``hold`` the step.
export const OWN_ITEMS = {
  layout_accepted: serials,
  seal_count: counts,
  polarity_proven: serials,
  battery_complete: battery,
  go,
  sources_set: serials,
  sign_off: signatures,
};

function* go(holds, hold) {
  for (const step of holds.inScope.slice(0, holds.inScope.indexOf(hold))) {
    if (step.is_hold && !holds.ofStep(step).isPassed) {
      yield item(step, `${step.title}: this hold has not passed`, false);
    }
  }
  yield* secondPerson(holds);
  for (const change of holds.ctx.rewired ?? [])
    yield item(change.step, changeSentence(change, holds.job.shop?.time_zone), false);
}

function* secondPerson(holds) {
  const step = stepAt(holds.job, "second_person");
  const name = valueAt(holds.job, holds.ctx.state, "second_person", "second_person");
  if (!step || !name) return;
  const wiring = holds.inScope.filter((each) => WIRING.includes(holds.phaseRole(each)));
  const workers = new Set(
    wiring.flatMap((each) => namesAt(holds, each)).map((person) => person.toLowerCase()),
  );
  if (workers.size === 1 && workers.has(String(name).trim().toLowerCase())) {
    yield item(step, `${name} did the work: somebody else looks it over`);
  }
}

export function namesAt(holds, step) {
  const fields = Object.values(holds.own(step)?.fields ?? {});
  return fields.flatMap((field) => field.standing.map((event) => event.by_name)).filter(Boolean);
}

function* counts(holds, hold) {
  for (const sentence of sealCount(holds.job, holds.ctx.state).sentences) yield item(hold, sentence);
}

function* serials(holds, hold) {
  const seen = new Map();
  for (const step of holds.inScope) {
    for (const spec of specsOf(holds.job, holds.ctx.state, step)) {
      const { value } = fieldOf(holds.own(step), spec.name);
      if (spec.kind !== "serial" || !value || step.phase > hold.phase) continue;
      const first = seen.get(plain(value));
      if (first && first.role === step.role && hold.phase === step.phase) {
        yield item(step, `Serial ${value} is also recorded at “${first.title}”`);
      }
      if (!first) seen.set(plain(value), step);
    }
  }
}

function* battery(holds, hold) {
  const steps = holds.inScope.filter((step) => step.role === "battery");
  const known = steps
    .map((step) => fieldOf(holds.own(step), "rest_v").value)
    .filter((value) => value !== null);
  const spread = Math.max(...known) - Math.min(...known);
  if (known.length > 1 && spread > REST_SPREAD_V + 1e-9) {
    yield item(steps[0], `Batteries rest ${fixed(spread, 2)} V apart; join them only within 0.05 V`);
  }
  yield* serials(holds, hold);
}

function* signatures(holds, hold) {
  for (const part of holds.requiredSignatures()) {
    if (!holds.ctx.signedParts.includes(part))
      yield { ...item(hold, `${PART_WORDS[part]} has not signed`, false), unsigned: part };
  }
}
