// What the tablet keeps: who it is, the jobs downloaded, every event known of them, and what is not sent yet.
import { openDB } from "../../vendor/idb-8.0.4.js";
import { announce } from "./news.js";

export const NAME = "coachlight";
const PERSONAL = ["jobs", "events", "outbox", "uploads", "thumbs"];
// A tick that was shown as saved must survive a tablet that goes dark.
export const STRICT = { durability: "strict" };

let opened;

export function database() {
  opened ??= openDB(NAME, 1, {
    upgrade(db) {
      db.createObjectStore("meta");
      db.createObjectStore("jobs", { keyPath: "pk" });
      db.createObjectStore("events", { keyPath: "id" }).createIndex("job", "job");
      // in order of the work
      const outbox = db.createObjectStore("outbox", { keyPath: "seq", autoIncrement: true });
      outbox.createIndex("id", "id");
      db.createObjectStore("uploads", { keyPath: "id" }).createIndex("job", "job");
      db.createObjectStore("thumbs", { keyPath: "id" }).createIndex("job", "job");
    },
    blocking: (_, __, event) => event.target.close(),
    terminated: () => {
      opened = undefined;
    },
  });
  return opened;
}

export const metaGet = async (key) => (await database()).get("meta", key);
export const metaPut = async (key, value) => (await database()).put("meta", value, key);

let device;

// The device's own name, made once; a tick must not wait for it to be read.
export function deviceId() {
  device ??= deviceKept().catch((problem) => {
    device = undefined;
    throw problem;
  });
  return device;
}

async function deviceKept() {
  const tx = (await database()).transaction("meta", "readwrite", STRICT);
  let id = await tx.store.get("device");
  if (!id) {
    id = crypto.randomUUID();
    await tx.store.put(id, "device");
  }
  await tx.done;
  return id;
}

export async function unsentCount() {
  return (await database()).count("outbox");
}

// Leaves nothing of any job, customer or person; the device keeps its own name.
export async function forgetPersonal() {
  const db = await database();
  const tx = db.transaction([...PERSONAL, "meta"], "readwrite", STRICT);
  for (const name of PERSONAL) tx.objectStore(name).clear();
  for (const name of ["person", "people", "session", "last_sent", "known_jobs"])
    tx.objectStore("meta").delete(name);
  tx.objectStore("meta").delete(IDBKeyRange.bound("draft/", "draft/\uffff")); // typed and not saved
  await tx.done;
  announce({ kind: "merged" });
}

export async function forgetJob(pk) {
  const db = await database();
  const tx = db.transaction(["jobs", "events", "thumbs"], "readwrite", STRICT);
  tx.objectStore("jobs").delete(pk);
  for (const name of ["events", "thumbs"]) {
    let cursor = await tx.objectStore(name).index("job").openCursor(pk);
    while (cursor) {
      cursor.delete();
      cursor = await cursor.continue();
    }
  }
  await tx.done;
  announce({ kind: "merged", job: pk });
}
