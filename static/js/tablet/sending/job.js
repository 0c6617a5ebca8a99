// Sends all that waits of one job: events, photos with the events they belong to, signatures.
import { database } from "../db.js";
import { sendEvents } from "./events.js";
import { inParallel } from "./parallel.js";
import { sendSignatures } from "./signatures.js";
import { sendPhoto } from "./uploads.js";

const PHOTOS_AT_ONCE = 3; // while the server draws one anew the next comes in
const EVENTS_EVERY_MS = 3000; // of photos that are sent: a photo counts with its event only

// ``round`` holds who is signed in, whose rows go, and where a trouble is kept until all was tried.
export async function sendJob(job, { hello, own, trouble, isMoreWaiting }) {
  await sendEvents(job, hello, own);
  const db = await database();
  const uploads = (await db.getAllFromIndex("uploads", "job", job)).filter(
    (upload) => own(upload) && !upload.state,
  );
  let told = Date.now();
  await inParallel(PHOTOS_AT_ONCE, uploads, (upload) =>
    trouble.around(async () => {
      await sendPhoto(upload, hello);
      if (!isMoreWaiting() && Date.now() - told < EVENTS_EVERY_MS) return;
      told = Date.now(); // what was recorded meanwhile does not wait
      await sendEvents(job, hello, own);
    }),
  );
  if (uploads.length) await sendEvents(job, hello, own);
  await sendSignatures(job, hello, own);
}
