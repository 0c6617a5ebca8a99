// Asks the server who is signed in before anything is sent.
import { ask, Offline } from "../ask.js";
import { deviceId, metaGet, metaPut } from "../db.js";
import { announce } from "../news.js";
import { APP, deviceName, link, urls } from "./link.js";

// Keeps who is signed in, and tells every view when that is somebody else than before.
async function knownAs(person) {
  const before = await metaGet("person");
  await metaPut("person", person);
  const isSame = ["id", "name", "role"].every((key) => before?.[key] === person[key]);
  const isFirst = !link.isAsked;
  link.isAsked = true;
  if (isFirst || !isSame) announce({ kind: "person" });
}

// A fresh token, our clock against theirs, and who is signed in now.
export async function greet() {
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
  await knownAs(answer.data.person);
  await metaPut("app", answer.data.app?.version ?? "");
  return { csrf: answer.data.csrf, person: answer.data.person, device };
}
