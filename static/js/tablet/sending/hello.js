// Asks the server who is signed in before anything is sent, and signs in who unlocked this tablet.
import { ask, Offline, SignedOut } from "../ask.js";
import { deviceId, metaGet, metaPut } from "../db.js";
import { followPerson } from "../language.js";
import { announce } from "../news.js";
import { forgetPin, holder, people } from "../people.js";
import { APP, deviceName, link, setWho, urls } from "./link.js";

// A fresh token, our clock against theirs, and who is signed in now.
export async function greet() {
  const device = await deviceId();
  const answer = await heard(device);
  link.isRevoked = answer.device?.state === "revoked";
  await metaPut("app", answer.app?.version ?? "");
  await metaPut("device_name", answer.device?.name ?? "");
  return { csrf: answer.csrf, person: answer.person, device };
}

// The server's answer for the person who holds the tablet, signed in by PIN where another session was open.
async function heard(device) {
  let answer;
  try {
    answer = await hello(device);
  } catch (problem) {
    if (!(problem instanceof SignedOut) || !holder.secret) throw problem;
    await signIn(device);
    answer = await hello(device);
  }
  if (await isAnother(answer)) {
    await signIn(device);
    answer = await hello(device);
  }
  await metaPut("session", answer.session);
  return answer;
}

async function hello(device) {
  const sent = Date.now();
  const query = new URLSearchParams({ device, app: APP, name: deviceName() });
  if (holder.isLocked) query.set("locked", "1");
  const answer = await ask(`${urls.hello}?${query}`, { patience: 8000 });
  if (!answer.data.csrf)
    throw answer.ok
      ? new Offline("no answer of ours")
      : new Error(answer.data.error ?? `the server answered ${answer.status}`);
  link.offset_ms = Math.round(new Date(answer.data.server_time).getTime() - (sent + Date.now()) / 2);
  return answer.data;
}

// Whether the one who holds the tablet has to be signed in in place of the session there is. A session that
// we did not know is somebody who gave a password: they hold the tablet now.
async function isAnother({ person, session, has_pin: hasPin, is_locked: isLocked }) {
  const [mine, known, all] = [await metaGet("person"), await metaGet("session"), await people()];
  const hasMine = all.some((one) => one.id === mine?.id);
  const isUnlocked = holder.secret && holder.id === mine?.id;
  if (isUnlocked && (person.id !== mine.id || isLocked)) return true;
  if (hasMine && session === known) {
    if (person.id === mine.id) await knownAs(person); // their part in the shop may have changed
    return false;
  }
  if (session !== known && all.some((one) => one.id === person.id && (one.isOut || !hasPin)))
    await forgetPin(person.id); // asked for a new one
  if (session !== known) holder.isLocked = false;
  await knownAs(person);
  return false;
}

// Keeps who is signed in, and tells every view when that is somebody else than before.
async function knownAs(person) {
  const before = await metaGet("person");
  await metaPut("person", person);
  followPerson(person);
  const isSame = ["id", "name", "role"].every((key) => before?.[key] === person[key]);
  setWho("told");
  if (!isSame || document.querySelector(".pin-lock")) announce({ kind: "person" });
}

async function signIn(device) {
  const { id, secret } = holder;
  const body = { device, person: id, secret };
  try {
    const answer = await ask(urls.unlock, { method: "POST", body });
    if (!answer.ok) throw new Error(answer.data.error ?? `the server answered ${answer.status}`);
  } catch (problem) {
    if (problem instanceof SignedOut) {
      holder.secret = "";
      await forgetPin(id); // a new password, or unused for too long: signed in again it is asked for anew
    }
    throw problem;
  }
}
