// The pages of a job: all steps of one code are one page, a table where the code is asked of several things.

const known = new WeakMap();

// Returns [{ code, phase, steps }] in the order of the work.
export function pagesOf(view) {
  if (!known.has(view.inScope)) known.set(view.inScope, made(view.inScope));
  return known.get(view.inScope);
}

function made(steps) {
  const pages = new Map();
  for (const step of steps) {
    if (!pages.has(step.code)) pages.set(step.code, { code: step.code, phase: step.phase, steps: [] });
    pages.get(step.code).steps.push(step);
  }
  return [...pages.values()];
}

export const pageOf = (view, step) => pagesOf(view).find((page) => page.code === step.code);
export const isTable = (page) => page.steps.length > 1 && page.steps.some((step) => step.subject);
export const isDone = (view, page) => page.steps.every((step) => view.mark(step).isDone);

// What the page is about, without the name of one row.
export function titleOf({ steps }) {
  const titles = new Set(steps.map((step) => step.title.split(": ")[0]));
  const common = steps.find((step) => !step.subject);
  return common?.title ?? (titles.size === 1 ? [...titles][0] : [...titles].slice(0, 2).join(", "));
}

// The name of one row: what comes after the name of the step.
export function rowTitle(step) {
  const [head, ...rest] = step.title.split(": ");
  const words = rest.join(": ") || (step.subject ? step.subject.replace(":", " ") : head);
  return words[0].toUpperCase() + words.slice(1);
}

// Returns the next page that is not done and not locked: after this one, else from the beginning.
export function nextOpenPage(view, after) {
  const pages = pagesOf(view);
  const start = after ? pages.indexOf(after) + 1 : 0;
  const order = [...pages.slice(start), ...pages.slice(0, start)];
  return order.find((page) => page !== after && page.steps.some((step) => isOpen(view, step)));
}

const isOpen = (view, step) => !view.mark(step).isDone && !view.locks(step).length;
