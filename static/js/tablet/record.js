// Writes down what a person did: the event and its place in the queue in one transaction, or neither of them.
import { database, deviceId, metaGet, STRICT } from "./db.js";
import { announce } from "./news.js";
import { packed } from "./pictures.js";

const NOBODY = { id: null, name: "", role: "" };

// Adds events of one job; each is { step, verb, field, value, … }. Resolves when they are safe on this
// tablet.
export async function record(view, entries, extras = {}) {
  const [device, person, db] = [await deviceId(), (await metaGet("person")) ?? NOBODY, await database()];
  const at = new Date().toISOString();
  const events = entries.map((entry) => made(entry, view, { device, person, at }));
  const [uploads, thumbs] = await Promise.all(
    [extras.uploads ?? [], extras.thumbs ?? []].map((rows) => Promise.all(rows.map(packed))),
  );
  const tx = db.transaction(["events", "outbox", "uploads", "thumbs"], "readwrite", STRICT);
  for (const event of events) {
    await asKept(event, tx);
    event.sequence = await tx.objectStore("outbox").add({
      id: event.id,
      job: view.pk,
      kind: "event",
      person: person.id,
      person_name: person.name,
      at,
      state: "",
      why: "",
      upload: event.upload ?? "",
    });
    tx.objectStore("events").add(event); // with its place in the order of the work here
  }
  for (const upload of uploads)
    tx.objectStore("uploads").add({ ...upload, job: view.pk, person: person.id, state: "", at });
  for (const thumb of thumbs) tx.objectStore("thumbs").put({ ...thumb, job: view.pk });
  await tx.done;
  for (const event of events) view.events.set(event.id, event);
  view.forget();
  announce({ kind: "recorded", job: view.pk, ids: events.map((event) => event.id) });
  return events;
}

// A picture that stands elsewhere: its id may have become the server's a moment ago, so it is read where the
// sending of pictures writes it.
async function asKept(event, tx) {
  if (!event.same_as) return;
  const { photo, upload = "" } = await tx.objectStore("events").get(event.same_as);
  Object.assign(event, { photo, upload });
}

function made(entry, view, { device, person, at }) {
  return {
    id: crypto.randomUUID(),
    verb: "record",
    field: "",
    value: null,
    unit: "",
    photo: null,
    undoes: null,
    replaces: [],
    cause: "",
    ...entry,
    job: view.pk,
    at,
    device,
    design_number: view.job.design_number,
    by: person.id,
    by_name: person.name,
    by_role: person.role,
    received_at: null,
    is_local: true,
  };
}

// What the person sees at a field: a value nobody saw stays beside the new one.
const seen = (view, step, name) =>
  (view.state(step).fields[name]?.standing ?? []).filter((event) => !event.photo).map((event) => event.id);

export function recordValue(view, step, spec, value, cause = "") {
  return record(view, [
    {
      step: step.pk,
      field: spec.name,
      value,
      unit: spec.unit ?? "",
      cause,
      replaces: seen(view, step, spec.name),
    },
  ]);
}

export function undo(view, step, event) {
  return record(view, [{ step: step.pk, verb: "undo", undoes: event.id }]);
}

export function note(view, step, words) {
  return record(view, [{ step: step.pk, verb: "note", value: words }]);
}

// The picture stands at once under its own id; the id of the stored photo takes its place when it was sent.
export function recordPhoto(view, step, spec, shot) {
  const { entries, extras } = recordPhotoEntry([step], spec, shot);
  return record(view, entries, extras);
}

// One picture for a field of one or of several steps: what to record, and what to keep with it.
export function recordPhotoEntry(steps, spec, { id, blob, thumb, ...facts }) {
  return {
    entries: steps.map((step) => ({ step: step.pk, field: spec.name, photo: id, upload: id })),
    extras: {
      uploads: blob ? [{ id, blob, ...facts }] : [],
      thumbs: thumb ? [{ id, blob: thumb }] : [], // none of a picture that cannot be opened here
    },
  };
}

// What was read of the safety lines of a step's phase today.
export function recordSafety(view, step, day) {
  return record(view, [{ step: step.pk, verb: "safety", value: day }]);
}

// Lets a picture that stands at another field stand at this one too.
export function recordPhotoAgain(view, step, spec, event) {
  return record(view, [{ step: step.pk, field: spec.name, photo: event.photo, same_as: event.id }]);
}
