// Small pictures: from the tablet while it has them, else from the server, else in words.
import { database } from "../db.js";
import { h } from "../dom.js";
import { gettext } from "../language.js";
import { blobOf } from "../pictures.js";

export function thumb(event, words) {
  const place = h("span", { class: "thumb" });
  show(place, event, words);
  return place;
}

async function show(place, event, words) {
  const db = await database();
  const kept =
    (await db.get("thumbs", event.photo)) ??
    (event.upload ? await db.get("thumbs", event.upload) : undefined);
  const isSent = event.photo !== event.upload; // sent, it has the server's own id
  const blob = kept && blobOf(kept);
  if (blob) {
    const address = URL.createObjectURL(blob);
    draw(place, words, address, () => (isSent ? fromServer(place, event, words) : told(place, WAITS)));
  } else if (isSent) fromServer(place, event, words);
  else told(place, WAITS);
}

const WAITS = gettext("Kept. This kind of picture is shown once it is sent.");
const told = (place, words) => place.replaceChildren(h("span", { class: "thumb-none" }, words));

const fromServer = (place, event, words) =>
  draw(place, words, `/photos/${event.photo}/small/`, () => told(place, gettext("On the server")));

function draw(place, words, address, otherwise) {
  const image = h("img", { alt: words, width: "220", height: "165" });
  const free = () => address.startsWith("blob:") && URL.revokeObjectURL(address);
  image.addEventListener("load", free, { once: true });
  image.addEventListener("error", () => free() || otherwise(), { once: true });
  image.src = address;
  place.replaceChildren(image);
}
