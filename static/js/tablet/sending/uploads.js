// Sends one photo in pieces that can be taken up again where they stopped, by the server's own count.
import { ask } from "../ask.js";
import { database, STRICT } from "../db.js";
import { gettext, interpolate } from "../language.js";
import { announce } from "../news.js";
import { blobOf, packed } from "../pictures.js";

const LARGEST = 256 * 1024;
const SMALLEST = 32 * 1024;
const TRIES = 4;
const QUICK_MS = 2000;
const SLOW_MS = 8000; // well within what ask() waits

// Several pieces share a line that may be slow: small ones get through before a dead line has to be thought
// of.
let pieceSize = LARGEST;

// Sends one photo and keeps what the server made of it.
export async function sendPhoto(upload, hello) {
  const end = await sendUpload(upload, hello.csrf, hello.device);
  if (end.error) await uploadRefused(upload, end.error);
  else await uploadDone(upload, end.photo);
  announce({ kind: "sent", job: upload.job });
}

// Resolves to the stored photo's id, or { error } when the server refuses the picture.
async function sendUpload(upload, csrf, device) {
  let offset = await begin(upload, csrf, device);
  for (let wrong = 0; typeof offset === "number" && wrong < TRIES; ) {
    const next = await piece(upload, offset, csrf);
    if (next === null) wrong += 1;
    offset = next ?? (await whereAt(upload, csrf));
  }
  if (typeof offset === "number") throw new Error(gettext("the server's count of the photo does not hold"));
  return offset;
}

async function begin(upload, csrf, device) {
  const { id, sha256, original_sha256, size, type } = upload;
  const answer = await ask(`/jobs/${upload.job}/uploads/`, {
    method: "POST",
    csrf,
    body: { id, sha256, original_sha256, size, type, device },
  });
  if (answer.data.photo) return { photo: answer.data.photo, held: answer.data.held };
  if (answer.ok) return answer.data.offset ?? 0;
  return refused(answer);
}

async function piece(upload, offset, csrf) {
  const body = blobOf(upload).slice(offset, offset + pieceSize, "application/offset+octet-stream");
  const answer = await timed(() =>
    ask(`/uploads/${upload.id}/`, {
      method: "PATCH",
      csrf,
      body,
      headers: { "Upload-Offset": String(offset), "Content-Type": "application/offset+octet-stream" },
    }),
  );
  if (answer.data.photo) return { photo: answer.data.photo, held: answer.data.held };
  if (answer.status === 204) return Number(answer.headers.get("Upload-Offset"));
  if (answer.status === 409) return null; // another count there: ask for it
  return refused(answer);
}

async function timed(send) {
  const begun = performance.now();
  try {
    const answer = await send();
    const took = performance.now() - begun - answer.waited;
    if (took < QUICK_MS) pieceSize = Math.min(LARGEST, 2 * pieceSize);
    if (took > SLOW_MS) pieceSize = Math.max(SMALLEST, pieceSize / 2);
    return answer;
  } catch (problem) {
    pieceSize = SMALLEST;
    throw problem;
  }
}

async function whereAt(upload, csrf) {
  const answer = await ask(`/uploads/${upload.id}/`, { method: "HEAD", csrf });
  return Number(answer.headers.get("Upload-Offset") ?? 0);
}

// A picture the server will never take is set aside; anything else is tried again later.
function refused(answer) {
  if ([413, 415, 422].includes(answer.status))
    return { error: answer.data.error ?? gettext("The server cannot open this picture.") };
  throw new Error(
    answer.data.error ?? interpolate(gettext("photo: answer {status}"), { status: answer.status }),
  );
}

// The stored photo takes the place of the picture on this tablet; the small one stays to be looked at. Not
// strict: where a dark tablet forgets this, it asks again and is told the same photo.
async function uploadDone(upload, photo) {
  const db = await database();
  const drawn = (await db.get("thumbs", upload.id)) ? null : await smallOf(photo);
  const tx = db.transaction(["uploads", "events", "thumbs", "outbox"], "readwrite");
  const small = await tx.objectStore("thumbs").get(upload.id);
  const kept = small ?? drawn;
  if (kept) await tx.objectStore("thumbs").put({ ...kept, id: photo, job: upload.job });
  if (photo !== upload.id) await tx.objectStore("thumbs").delete(upload.id);
  for (const row of await tx.objectStore("outbox").getAll()) {
    if (row.upload === upload.id)
      await tx.objectStore("events").put({ ...(await tx.objectStore("events").get(row.id)), photo });
  }
  await tx.objectStore("uploads").delete(upload.id);
  await tx.done;
}

// The small picture the server drew of one that could not be opened here; without it, it is asked for when
// shown.
async function smallOf(photo) {
  try {
    const answer = await fetch(`/photos/${photo}/small/`, { signal: AbortSignal.timeout(8000) });
    const blob = answer.ok ? await answer.blob() : null;
    return blob?.type.startsWith("image/") ? await packed({ blob }) : null;
  } catch {
    return null;
  }
}

async function uploadRefused(upload, why) {
  const db = await database();
  const tx = db.transaction(["uploads", "outbox"], "readwrite", STRICT);
  await tx.objectStore("uploads").put({ ...upload, state: "bad", why });
  for (const row of await tx.objectStore("outbox").getAll()) {
    if (row.upload === upload.id) await tx.objectStore("outbox").put({ ...row, state: "bad", why });
  }
  await tx.done;
}
