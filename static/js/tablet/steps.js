// Finds a step of the job and the value that stands at one of its fields.

const placed = new WeakMap();

// Return the step of a code and subject, undefined when the job has none.
export function stepAt(job, code, subject = "") {
  if (!placed.has(job))
    placed.set(job, new Map(job.steps.map((step) => [`${step.code} ${step.subject}`, step])));
  return placed.get(job).get(`${code} ${subject}`);
}

// Return the value that stands at a field, or null.
export function valueAt(job, state, code, name, subject = "") {
  const step = stepAt(job, code, subject);
  return step ? (state.get(step.pk)?.fields?.[name]?.value ?? null) : null;
}

// Return a function of (job, state) that works its answer out once for each state.
export function once(work) {
  const known = new WeakMap();
  return (job, state) => {
    if (known.get(state)?.job !== job) known.set(state, { job, answer: work(job, state) });
    return known.get(state).answer;
  };
}
