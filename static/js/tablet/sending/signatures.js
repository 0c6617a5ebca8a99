// Sends the signatures of a job, the last of its work.
import { ask } from "../ask.js";
import { database, STRICT } from "../db.js";
import { announce } from "../news.js";

// A signature goes when everything it stands under has arrived.
export async function sendSignatures(job, hello, own) {
  const db = await database();
  const rows = (await db.getAll("outbox")).filter((row) => row.job === job && own(row));
  if (rows.some((row) => row.kind === "event" && !row.state)) return;
  for (const row of rows.filter((one) => one.kind === "signature" && !one.state)) {
    const answer = await ask(`/jobs/${job}/hand-over/`, {
      method: "POST",
      csrf: hello.csrf,
      body: { ...row.body, device: hello.device },
    });
    if (!answer.ok && answer.status !== 409)
      throw new Error(answer.data.error ?? `the server answered ${answer.status}`);
    const tx = db.transaction(["outbox", "jobs"], "readwrite", STRICT);
    const kept = await tx.objectStore("jobs").get(job);
    const told = (one) => (one.id === row.id ? { ...one, answer: answer.data } : one);
    if (kept) tx.objectStore("jobs").put({ ...kept, signatures: (kept.signatures ?? []).map(told) });
    if (answer.data.stored === row.id) tx.objectStore("outbox").delete(row.seq);
    else tx.objectStore("outbox").put({ ...row, state: "bad", why: answer.data.error ?? "" });
    await tx.done;
    announce({ kind: "sent", job });
  }
}
