// Events of the job as the queue names them.
import { gettext, interpolate, ngettext } from "./language.js";

export function jobEventWords(view, event) {
  const line = view.job.pull?.find((one) => one.key === event.field);
  const what = line?.text ?? gettext("Something else");
  const name = event.value?.name ?? "";
  if (event.verb === "start")
    return interpolate(gettext("Clock of {name} started, phase {field}"), { name, field: event.field });
  if (event.verb === "stop") return gettext("Clock stopped");
  if (event.verb === "correct")
    return interpolate(gettext("Hours put right: {cause}"), { cause: event.cause });
  if (event.verb === "load") return interpolate(gettext("Loaded: {what}"), { what });
  if (event.verb === "short")
    return event.value.missing
      ? interpolate(gettext("Missing: {what}"), { what })
      : interpolate(gettext("No more missing: {what}"), { what });
  return gettext("Taken back");
}

export const photosWords = (count) =>
  interpolate(ngettext("{count} photo", "{count} photos", count), { count });
