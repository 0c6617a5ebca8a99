// Empties the queue: one tab at a time, everything as often as it takes, each row gone only when the server names it.
import { ask, Offline, SignedOut, UpdateNeeded } from "./ask.js";
import { database, deviceId, forgetJob, metaGet, metaPut, STRICT } from "./db.js";
import { announce, listen } from "./news.js";
import { takeAgain } from "./take.js";
import { sendUpload, uploadDone, uploadRefused } from "./uploads.js";

export const urls = JSON.parse(document.body.dataset.urls);
const APP = document.body.dataset.appVersion;
const BATCH = 200;
const PHOTOS_AT_ONCE = 3; // while the server draws one anew the next comes in
const EVENTS_EVERY_MS = 3000; // of photos that are sent: a photo counts with its event only
const LONGEST_WAIT_MS = 60_000;
const LOOK_AGAIN_MS = 60_000; // what others recorded, what the office decided
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

// idle · sending · offline · signed-out · other-person · update · trouble
export const link = { state: "idle", words: "", isRevoked: false, offset_ms: null };

let running = false;
let again = false;
let failures = 0;
let timer;

export function startSending() {
  for (const name of ["online", "pageshow"]) addEventListener(name, () => send());
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) send();
  });
  addEventListener("offline", () => change("offline"));
  setInterval(() => {
    if (!document.hidden && navigator.onLine) send();
  }, LOOK_AGAIN_MS);
  listen((news, isHere) => {
    if (isHere && news.kind === "recorded") send();
  });
  return send();
}

// Tries to send what waits; ``force`` forgets how long the last failure asked to wait.
export async function send({ force = false } = {}) {
  if (force) failures = 0;
  if (running) {
    again = true;
    return;
  }
  running = true;
  clearTimeout(timer);
  try {
    do {
      again = false;
      await navigator.locks.request("coachlight-outbox", { ifAvailable: true }, async (lock) => {
        if (lock) await pass();
        else later(3000); // another tab is at it: look again when it is through
      });
    } while (again && failures === 0);
  } finally {
    running = false;
  }
}

function later(wait) {
  clearTimeout(timer);
  timer = setTimeout(() => send(), wait);
}

function change(state, words = "") {
  Object.assign(link, { state, words });
  announce({ kind: "link" });
}

async function pass() {
  try {
    if (await hasRows()) change("sending");
    const hello = await greet();
    const strangers = await sendAll(hello);
    await fetchOthers();
    failures = 0;
    change(strangers ? "other-person" : "idle", strangers);
  } catch (problem) {
    failures += 1;
    fail(problem);
  }
}

function fail(problem) {
  if (problem instanceof SignedOut) return change("signed-out");
  if (problem instanceof UpdateNeeded) return change("update", problem.message);
  later(Math.min(LONGEST_WAIT_MS, 2000 * 2 ** Math.min(failures, 5)) * (0.8 + 0.4 * Math.random()));
  if (problem instanceof Offline) return change("offline");
  return change("trouble", problem.message);
}

// A fresh token, our clock against theirs, and who is signed in now.
async function greet() {
  const device = await deviceId();
  const sent = Date.now();
  const query = new URLSearchParams({ device, app: APP, name: deviceName() });
  const answer = await ask(`${urls.hello}?${query}`, { patience: 8000 });
  const back = Date.now();
  if (!answer.data.csrf)
    throw answer.ok
      ? new Offline("no answer of ours")
      : new Error(answer.data.error ?? `the server answered ${answer.status}`);
  link.offset_ms = Math.round(new Date(answer.data.server_time).getTime() - (sent + back) / 2);
  link.isRevoked = answer.data.device?.state === "revoked";
  await metaPut("person", answer.data.person);
  await metaPut("app", answer.data.app?.version ?? "");
  return { csrf: answer.data.csrf, person: answer.data.person, device };
}

export const deviceName = () => {
  const kind = /iPad|Tablet|Android/.exec(navigator.userAgent)?.[0] ?? "Computer";
  return `${kind}, ${navigator.language}`.slice(0, 64);
};

async function hasRows() {
  return (await (await database()).count("outbox")) > 0;
}

// Sends all that belongs to the person signed in; resolves to the name of somebody whose work has to wait.
async function sendAll(hello) {
  const rows = await (await database()).getAll("outbox");
  const own = (row) => row.person === hello.person.id || row.person === null;
  const jobs = [...new Set(rows.filter((row) => own(row) && !row.state).map((row) => row.job))];
  const trouble = new Trouble();
  for (const job of jobs) await trouble.around(() => sendJob(job, hello, own, trouble));
  trouble.raise();
  return rows.find((row) => !own(row))?.person_name ?? "";
}

// One job or photo that will not go must not keep the others here: the first trouble is told when all were tried.
class Trouble {
  async around(work) {
    try {
      await work();
    } catch (problem) {
      if (problem instanceof Offline || problem instanceof SignedOut || problem instanceof UpdateNeeded)
        throw problem;
      this.first ??= problem;
    }
  }

  raise() {
    if (this.first) throw this.first;
  }
}

async function sendJob(job, hello, own, trouble) {
  await sendEvents(job, hello, own);
  const db = await database();
  const uploads = (await db.getAllFromIndex("uploads", "job", job)).filter(
    (upload) => own(upload) && !upload.state,
  );
  let told = Date.now();
  await inHands(PHOTOS_AT_ONCE, uploads, (upload) =>
    trouble.around(async () => {
      await sendPhoto(upload, hello);
      if (!again && Date.now() - told < EVENTS_EVERY_MS) return;
      told = Date.now(); // what was recorded meanwhile does not wait
      await sendEvents(job, hello, own);
    }),
  );
  if (uploads.length) await sendEvents(job, hello, own);
  await sendSignatures(job, hello, own);
}

async function sendPhoto(upload, hello) {
  const end = await sendUpload(upload, hello.csrf, hello.device);
  if (end.error) await uploadRefused(upload, end.error);
  else await uploadDone(upload, end.photo);
  announce({ kind: "sent", job: upload.job });
}

// Works a list off by so many hands; where one fails the others end what they hold, and nothing new is begun.
async function inHands(count, list, work) {
  const rest = [...list];
  const hand = async () => {
    try {
      while (rest.length) await work(rest.shift());
    } finally {
      rest.length = 0;
    }
  };
  const ends = await Promise.allSettled(Array.from({ length: count }, hand));
  const failed = ends.find((end) => end.status === "rejected");
  if (failed) throw failed.reason;
}

async function sendEvents(job, hello, own) {
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
  const events = batch.map(({ event }) => Object.fromEntries(SENT_KEYS.map((key) => [key, event[key]])));
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

// A signature goes when everything it stands under has arrived.
async function sendSignatures(job, hello, own) {
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

// What others recorded since we last looked, and what the office changed.
async function fetchOthers() {
  const db = await database();
  for (const row of await db.getAll("jobs")) {
    const answer = await ask(`/jobs/${row.pk}/events/?after=${encodeURIComponent(row.cursor ?? "")}`);
    if (answer.status === 404) await dropLost(row.pk);
    if (!answer.ok) continue;
    await merge(row.pk, answer.data);
    if (answer.data.stamp !== row.payload.stamp) await takeAgain(row.pk);
  }
}

// A job that the person signed in may not see leaves the tablet, unless something of it is not sent yet.
async function dropLost(pk) {
  const rows = await (await database()).getAll("outbox");
  if (!rows.some((row) => row.job === pk)) await forgetJob(pk);
}

export async function merge(job, { events, cursor, since_design = {} }) {
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

export async function lastSent() {
  return metaGet("last_sent");
}
