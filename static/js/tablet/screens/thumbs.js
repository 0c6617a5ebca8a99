// Small pictures: from the tablet while it has them, else from the server, else in words.
import { database } from "../db.js";
import { h } from "../dom.js";

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
  const image = h("img", { alt: words, width: "220", height: "165" });
  image.addEventListener("error", () =>
    place.replaceChildren(
      h("span", { class: "thumb-none" }, kept ? "This picture opens on the server" : "On the server"),
    ),
  );
  if (kept?.blob) {
    image.src = URL.createObjectURL(kept.blob);
    image.addEventListener("load", () => URL.revokeObjectURL(image.src), { once: true });
  } else image.src = `/photos/${event.photo}/small/`;
  place.replaceChildren(image);
}
