// Which recorded choices contradict the survey or each other: each is a deviation to be decided; the same as
// checklists/rules/choices.py, whose tables come with the job.
import { fieldOf } from "./reducer.js";

const KEY = "choice/";

export const isChoice = (row) => (row.key ?? "").startsWith(KEY);

// Returns { key, step, title, sentence } of each choice that stands and contradicts.
export function contradictions(job, state) {
  const inScope = job.steps.filter((step) => step.is_in_scope);
  const found = inScope
    .flatMap((step) => step.fields.map((spec) => ({ step, spec })))
    .find(({ spec }) => spec.feeds === "roof.material");
  if (!found || !job.suited) return [];
  const { step, spec } = found;
  const recorded = fieldOf(state, step, spec.name).value;
  const roof = recorded || spec.expected || "";
  const sealants = inScope.filter((each) => each.role === "sealant");
  return [
    ...material(step, spec, recorded),
    ...sealants.flatMap((each) => unsuited(job, state, { step: each, roof, ofRoof: spec })),
  ];
}

const blank = (value) => value === null || value === undefined || value === "";
const labelOf = (spec, value) => new Map(spec.choices).get(String(value)) ?? String(value);

function material(step, spec, recorded) {
  if (blank(recorded) || blank(spec.expected) || recorded === spec.expected) return [];
  const [built, planned] = [labelOf(spec, recorded), labelOf(spec, spec.expected)];
  return [
    {
      key: `${KEY}material/${recorded}`,
      step: step.pk,
      title: `Roof material: ${built}, surveyed ${planned}`,
      sentence:
        `Roof material: ${built} recorded, ${planned} surveyed.` +
        " Sealant, primer and fasteners follow from it: decide before anything is put on the roof.",
    },
  ];
}

function unsuited(job, state, { step, roof, ofRoof }) {
  return step.fields.flatMap((spec) => {
    const suited = job.suited[spec.name]?.[roof];
    const { value } = fieldOf(state, step, spec.name);
    if (!suited || blank(value) || suited.includes(value)) return [];
    const [taken, below] = [labelOf(spec, value), labelOf(ofRoof, roof)];
    const known = new Set(spec.choices.map(([name]) => name));
    const fits = suited
      .filter((name) => known.has(name))
      .map((name) => labelOf(spec, name))
      .join(" or ");
    return [
      {
        key: `${KEY}${spec.name}/${value}/${roof}`,
        step: step.pk,
        title: `${spec.label}: ${taken} on ${below}`,
        sentence:
          `${spec.label}: ${taken} does not suit ${below}; usual is ${fits}, rated for it.` +
          " The label of the tube and the maker of the roof win.",
      },
    ];
  });
}
