// Downloads a job to work on it offline: everything the work asks for and every event so far, in one go or
// not at all.
import { ask } from "./ask.js";
import { database, STRICT } from "./db.js";
import { gettext, interpolate } from "./language.js";
import { announce } from "./news.js";
import { askToStay } from "./storage.js";

const READS_FORM = 1;

export async function downloadJob(pk) {
  const [payload, others] = await Promise.all([
    ask(`/jobs/${pk}/take-along/`),
    ask(`/jobs/${pk}/events/?after=`),
  ]);
  for (const answer of [payload, others])
    if (!answer.ok)
      throw new Error(
        answer.data.error ?? interpolate(gettext("The server answered {status}."), { status: answer.status }),
      );
  if (payload.data.form !== READS_FORM)
    throw new Error(
      gettext("This tablet's app is older than the shop's: open it once online, then take the job again."),
    );
  const tx = (await database()).transaction(["jobs", "events"], "readwrite", STRICT);
  const kept = await tx.objectStore("jobs").get(pk);
  tx.objectStore("jobs").put({
    ...kept,
    pk,
    payload: payload.data,
    taken_at: new Date().toISOString(),
    cursor: others.data.cursor,
    since_design: others.data.since_design ?? {},
  });
  for (const event of others.data.events) {
    const own = await tx.objectStore("events").get(event.id);
    tx.objectStore("events").put({
      ...(own?.upload ? { upload: own.upload } : {}),
      ...event,
      job: pk,
      is_local: false,
    });
  }
  await tx.done;
  announce({ kind: "merged", job: pk });
  askToStay(); // a browser may ask the person: the job is here whatever the answer
}

// The plan, holds, deviations and locks of a job that is here already; the events stay as they are.
export async function refreshJob(pk) {
  const answer = await ask(`/jobs/${pk}/take-along/`);
  if (!answer.ok || answer.data.form !== READS_FORM) return;
  const tx = (await database()).transaction("jobs", "readwrite");
  const kept = await tx.store.get(pk);
  if (kept) tx.store.put({ ...kept, payload: answer.data, taken_at: new Date().toISOString() });
  await tx.done;
  announce({ kind: "merged", job: pk });
}

export async function jobsOnServer(url) {
  const answer = await ask(url, { patience: 8000 });
  if (!answer.ok)
    throw new Error(
      answer.data.error ?? interpolate(gettext("The server answered {status}."), { status: answer.status }),
    );
  return answer.data.jobs;
}
