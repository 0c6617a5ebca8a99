// What a value would mean before it is recorded: its mark, and what it would do to the sums.

const TRIAL = "ffffffff-ffff-4fff-bfff-ffffffffffff";

// Returns the event that a value would be; ``id`` where there are several.
export const trialOf = (at, value, id = TRIAL) => ({
  id,
  step: at.step.pk,
  verb: "record",
  field: at.spec.name,
  value,
  photo: null,
  undoes: null,
  replaces: at.found.standing.map((event) => event.id),
  by_name: "",
  by_role: at.view.person?.role ?? "",
  at: new Date().toISOString(),
  design_number: at.view.job.design_number,
});

const viewWith = (at, value) => at.view.with(trialOf(at, value));

// Returns the mark of a field with a value in place of all that stands.
export const judged = (at, value) => viewWith(at, value).mark(at.step).fields[at.spec.name];

// Returns the sentences on what this number would make worse.
export function consequences(at, value) {
  if (!at.spec.feeds) return [];
  const before = new Set(at.view.deviations(at.step).map((one) => one.sentence));
  return viewWith(at, value)
    .deviations(at.step)
    .filter((one) => !before.has(one.sentence) && one.verdict !== "pass")
    .map((one) => one.sentence);
}
