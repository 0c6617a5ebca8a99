// Events of the job as the queue names them.
export function jobEventWords(view, event) {
  const line = view.job.pull?.find((one) => one.key === event.field);
  const what = line?.text ?? "Something else";
  const name = event.value?.name ?? "";
  if (event.verb === "start") return `Clock of ${name} started, phase ${event.field}`;
  if (event.verb === "stop") return "Clock stopped";
  if (event.verb === "correct") return `Hours put right: ${event.cause}`;
  if (event.verb === "load") return `Loaded: ${what}`;
  if (event.verb === "short") return event.value.missing ? `Missing: ${what}` : `No more missing: ${what}`;
  return "Taken back";
}
