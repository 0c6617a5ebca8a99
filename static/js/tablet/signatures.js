// Writes down a signature: with exactly what was shown, and its place in the queue, in one transaction.
import { database, metaGet, STRICT } from "./db.js";
import { announce } from "./news.js";

// Keeps one signature with exactly what was shown; it is sent when everything it stands under has arrived.
export async function keepSignature(view, { part, printed_name, signature_svg, content, content_sha256 }) {
  const [db, person] = [await database(), (await metaGet("person")) ?? { id: null, name: "" }];
  const [id, at] = [crypto.randomUUID(), new Date().toISOString()];
  const events = [...view.events.keys()];
  const body = { id, part, printed_name, signature_svg, content, content_sha256, events, at };
  const tx = db.transaction(["outbox", "jobs"], "readwrite", STRICT);
  tx.objectStore("outbox").add({
    id,
    job: view.pk,
    kind: "signature",
    person: person.id,
    person_name: person.name,
    at,
    state: "",
    why: "",
    upload: "",
    body,
  });
  const kept = await tx.objectStore("jobs").get(view.pk);
  tx.objectStore("jobs").put({
    ...kept,
    signatures: [...(kept.signatures ?? []), { id, part, printed_name, at, content_sha256 }],
  });
  await tx.done;
  announce({ kind: "recorded", job: view.pk, ids: [id] });
}
