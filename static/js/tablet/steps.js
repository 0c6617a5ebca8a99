// Finds a step of the job by what it is for, and the value that stands at one of its fields. The letter codes
// are for people: they move when the order of the work does.

const placed = new WeakMap();

// What this job's steps call a role of the newest ones.
const ownRole = (job, role) => job.aliases?.[role] ?? role;

// Return the step of a role and subject, undefined when the job has none.
export function stepAt(job, role, subject = "") {
  if (!placed.has(job))
    placed.set(job, new Map(job.steps.map((step) => [`${step.role} ${step.subject}`, step])));
  return placed.get(job).get(`${ownRole(job, role)} ${subject}`);
}

// Return the code printed for a role, as people know the step.
export const codeOf = (job, role) => job.steps.find((step) => step.role === ownRole(job, role))?.code ?? "";

// Return the steps in scope that share a role (one per panel, string …).
export const stepsOf = (job, role) =>
  job.steps.filter((step) => step.is_in_scope && step.role === ownRole(job, role));

// Return the value that stands at a field, or null; asked for in the words of the newest steps.
export function valueAt(job, state, role, name, subject = "") {
  const [itsRole, itsName] = job.aliases?.[`${role}.${name}`]?.split(".") ?? [role, name];
  const [ownName, alone] = itsName.split("@"); // "name@": there it is asked once, of nothing in particular
  const step = stepAt(job, itsRole, alone === undefined ? subject : "");
  return step ? (state.get(step.pk)?.fields?.[ownName]?.value ?? null) : null;
}

// Return a function of (job, state) that works its answer out once for each state.
export function once(work) {
  const known = new WeakMap();
  return (job, state) => {
    if (known.get(state)?.job !== job) known.set(state, { job, answer: work(job, state) });
    return known.get(state).answer;
  };
}
