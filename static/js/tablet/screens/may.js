// Whether anything may be recorded at a step now, by the person who holds the tablet.
import { isRead } from "./safety.js";

// The first list of steps kept what was recorded at a locked step and marked it; later ones do not ask for
// it.
export const isStrict = (view) => Number(view.job.template_version ?? 1) >= 2;

export const isShut = (view, step) => isStrict(view) && view.locks(step).length > 0;
export const isAtWork = (view, step) => step.is_in_scope && view.job.job.is_in_install && !isShut(view, step);
export const mayRecord = (view, step) => isAtWork(view, step) && isRead(view, step);
