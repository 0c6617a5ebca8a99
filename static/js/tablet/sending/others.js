// Fetches what came to the jobs on this tablet from elsewhere: other people's events, and what the office
// changed.
import { ask } from "../ask.js";
import { database, forgetJob } from "../db.js";
import { refreshJob } from "../download.js";
import { announce } from "../news.js";

// What others recorded since we last looked, and what the office changed.
export async function fetchOthers() {
  const db = await database();
  for (const row of await db.getAll("jobs")) {
    const answer = await ask(`/jobs/${row.pk}/events/?after=${encodeURIComponent(row.cursor ?? "")}`);
    if (answer.status === 404) await dropLost(row.pk);
    if (!answer.ok) continue;
    await merge(row.pk, answer.data);
    if (answer.data.stamp !== row.payload.stamp) await refreshJob(row.pk);
  }
}

// A job that the person signed in may not see leaves the tablet, unless something of it is not sent yet.
async function dropLost(pk) {
  const rows = await (await database()).getAll("outbox");
  if (!rows.some((row) => row.job === pk)) await forgetJob(pk);
}

async function merge(job, { events, cursor, since_design = {} }) {
  const tx = (await database()).transaction(["events", "jobs"], "readwrite");
  for (const event of events) {
    const own = await tx.objectStore("events").get(event.id);
    tx.objectStore("events").put({
      ...(own?.upload ? { upload: own.upload } : {}),
      ...event,
      job,
      is_local: false,
    });
  }
  const row = await tx.objectStore("jobs").get(job);
  if (row) tx.objectStore("jobs").put({ ...row, cursor, since_design });
  await tx.done;
  if (events.length) announce({ kind: "merged", job });
}
