// Sends the events of a job in batches; each row goes only when the server names it.
import { ask } from "../ask.js";
import { database, STRICT } from "../db.js";
import { announce } from "../news.js";
import { APP, deviceName, link } from "./link.js";

const BATCH = 200;
const SENT_KEYS = [
  "id",
  "step",
  "verb",
  "field",
  "value",
  "unit",
  "photo",
  "undoes",
  "replaces",
  "cause",
  "at",
  "design_number",
];

export async function sendEvents(job, hello, own) {
  for (;;) {
    const batch = await nextBatch(job, own);
    if (!batch.length) return;
    const named = await sendBatch(job, batch, hello);
    if (!named) throw new Error("The server did not name what it stored; it is sent again.");
    announce({ kind: "sent", job });
  }
}

// Rows whose photo is still on its way wait for it; all others go.
async function nextBatch(job, own) {
  const tx = (await database()).transaction(["outbox", "uploads", "events"]);
  const waiting = new Set(
    (await tx.objectStore("uploads").index("job").getAll(job)).map((upload) => upload.id),
  );
  const rows = (await tx.objectStore("outbox").getAll()).filter(
    (row) => row.job === job && row.kind === "event" && !row.state && own(row) && !waiting.has(row.upload),
  );
  return Promise.all(
    rows.slice(0, BATCH).map(async (row) => ({ row, event: await tx.objectStore("events").get(row.id) })),
  );
}

async function sendBatch(job, batch, hello) {
  const events = batch.map(({ row, event }) => ({
    ...Object.fromEntries(SENT_KEYS.map((key) => [key, event[key]])),
    sequence: row.seq, // in the order of the work, however long a picture takes
  }));
  const body = {
    device: hello.device,
    device_name: deviceName(),
    app: APP,
    sent_at: new Date().toISOString(),
    offset_ms: link.offset_ms,
    events,
  };
  const answer = await ask(`/jobs/${job}/events/`, { method: "POST", csrf: hello.csrf, body });
  if (answer.status === 409 && answer.data.bad?.length)
    return setAside(batch, new Set(answer.data.bad), answer.data.error);
  if (!answer.ok) throw new Error(answer.data.error ?? `the server answered ${answer.status}`);
  const { new: fresh = [], known = [], held = [] } = answer.data;
  return safe(batch, new Set([...fresh, ...known]), new Set(held));
}

async function safe(batch, stored, held) {
  const db = await database();
  const tx = db.transaction(["outbox", "events", "meta"], "readwrite", STRICT);
  let named = 0;
  for (const { row } of batch) {
    if (!stored.has(row.id) && !held.has(row.id)) continue;
    named += 1;
    tx.objectStore("outbox").delete(row.seq);
    const event = await tx.objectStore("events").get(row.id);
    if (event) tx.objectStore("events").put({ ...event, is_local: false, is_held: held.has(row.id) });
  }
  if (named) tx.objectStore("meta").put(new Date().toISOString(), "last_sent");
  await tx.done;
  return named;
}

async function setAside(batch, bad, why) {
  const tx = (await database()).transaction("outbox", "readwrite", STRICT);
  let named = 0;
  for (const { row } of batch) {
    if (!bad.has(row.id)) continue;
    named += 1;
    tx.store.put({ ...row, state: "bad", why });
  }
  await tx.done;
  return named;
}
