// The people who unlock this tablet by PIN, and which of them holds it now. Who records is who unlocked it.
import { database, metaGet, metaPut, STRICT } from "./db.js";
import { announce } from "./news.js";
import { newSalt, secretOf, verifierOf } from "./pin.js";

export const MOST_WRONG = 5;

// What is known while the page is open: whether it is locked, and the secret of who unlocked it, which signs
// that person in again when there is a network. Never written down.
export const holder = { isLocked: false, id: null, secret: "" };

// [{ id, name, role, salt, verifier, wrong, isOut }] · ``isOut``: five wrong PINs, only the password helps
export const people = async () => (await metaGet("people")) ?? [];

async function change(id, edit) {
  const tx = (await database()).transaction("meta", "readwrite", STRICT);
  const all = (await tx.store.get("people")) ?? [];
  const found = all.find((one) => one.id === id);
  const rest = all.filter((one) => one !== found);
  const edited = edit(found);
  await tx.store.put(edited ? [...rest, edited] : rest, "people");
  await tx.done;
  return edited;
}

// Makes a new PIN of a person; the server is told first by ``tell(secret)``.
export async function setPin(person, pin, tell) {
  const salt = newSalt();
  const secret = await secretOf(pin, salt);
  await tell(secret);
  const { id, name, role } = person;
  const verifier = await verifierOf(secret);
  await change(id, () => ({ id, name, role, salt, verifier, wrong: 0, isOut: false }));
  Object.assign(holder, { id, secret });
}

export const forgetPin = (id) => change(id, () => null);

// Resolves to { ok }, { left } tries, or { isOut }. A wrong one counts before it is known to be wrong: a
// tablet switched off in between has counted it.
export async function tryPin(id, pin) {
  const entry = await change(id, (one) => one && { ...one, wrong: one.wrong + 1 });
  if (!entry || entry.isOut || entry.wrong > MOST_WRONG) return { isOut: true };
  const secret = await secretOf(pin, entry.salt);
  if ((await verifierOf(secret)) === entry.verifier) {
    await change(id, (one) => ({ ...one, wrong: 0 }));
    await heldBy(entry, secret);
    return { ok: true };
  }
  if (entry.wrong < MOST_WRONG) return { left: MOST_WRONG - entry.wrong };
  await change(id, ({ name, role }) => ({ id, name, role, salt: "", verifier: "", wrong: 0, isOut: true }));
  return { isOut: true };
}

// From now on this person records.
async function heldBy({ id, name, role }, secret) {
  await metaPut("person", { id, name, role });
  Object.assign(holder, { isLocked: false, id, secret });
  announce({ kind: "person" });
}

// Whether the tablet opens locked: its last person has a PIN.
export async function opensLocked() {
  const [all, person] = [await people(), await metaGet("person")];
  return all.length > 0 && (!person || all.some((one) => one.id === person.id));
}
