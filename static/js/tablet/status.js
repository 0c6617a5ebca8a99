// The bar above every view: what is sent, what is only saved here, and since when; never more than is true.

import { database, metaGet } from "./db.js";
import { dayClock, h, icon, put } from "./dom.js";
import { photosWords } from "./job_words.js";
import { gettext, interpolate } from "./language.js";
import { link } from "./sending/link.js";
import { send } from "./sending/send.js";
import { storageSpace } from "./storage.js";
import { themeButton } from "./theme.js";
import { wetLock } from "./wetlock.js";

const FULL_SHARE = 0.8;

export const lastSent = () => metaGet("last_sent");

// { unsent, photos, oldest, bad }
export async function counts() {
  const db = await database();
  const [rows, uploads] = await Promise.all([db.getAll("outbox"), db.count("uploads")]);
  const waiting = rows.filter((row) => !row.state);
  return {
    unsent: waiting.length,
    photos: uploads,
    oldest: waiting[0]?.at,
    bad: rows.length - waiting.length,
  };
}

export function sentence({ unsent, photos, oldest }) {
  if (!unsent) return "";
  const also = photos ? ` (${photosWords(photos)})` : "";
  return interpolate(gettext("{unsent} not sent{also}, oldest {when}"), {
    unsent,
    also,
    when: dayClock(oldest),
  });
}

const WHY = {
  offline: [gettext("saved here"), "clock-history"],
  sending: [gettext("sending …"), "send"],
  "signed-out": [gettext("sign in again, your work is kept"), "person"],
  "other-person": [gettext("somebody else's work waits"), "person"],
  update: [gettext("update, your work is kept"), "download"],
  trouble: [gettext("saved here, will be tried again"), "clock-history"],
  idle: [gettext("saved here"), "clock-history"],
};

let drawn = "";

export async function drawBar() {
  const [found, last, space] = [await counts(), await lastSent(), await storageSpace()];
  const words = sentence(found);
  const [why, shape] = WHY[link.state] ?? WHY.idle;
  const isQuiet = !found.unsent && !["signed-out", "update"].includes(link.state);
  const main =
    words ||
    (link.state === "signed-out"
      ? gettext("Signed out")
      : link.state === "update"
        ? gettext("Update needed")
        : last
          ? interpolate(gettext("All sent {when}"), { when: dayClock(last) })
          : gettext("Nothing to send"));
  const more = isQuiet ? (link.state === "offline" ? gettext("no network") : "") : why;
  const alerts = [
    found.bad ? interpolate(gettext("{bad} set aside"), { bad: found.bad }) : "",
    link.isRevoked ? gettext("tablet revoked: held for review") : "",
    space.share >= FULL_SHARE
      ? interpolate(gettext("storage {percent}% full"), { percent: Math.round(space.share * 100) })
      : "",
  ].filter(Boolean);
  const key = JSON.stringify([main, more, alerts, isQuiet]);
  if (key === drawn && document.getElementById("bar").firstChild) return;
  drawn = key;
  const bar = document.getElementById("bar");
  bar.replaceChildren();
  put(
    bar,
    h(
      "a",
      { class: "bar-home", href: "#/", "aria-label": gettext("All jobs on this tablet") },
      icon("house"),
    ),
    h(
      "a",
      { class: `bar-state${isQuiet ? " bar-quiet" : ""}`, href: "#/queue", id: "state" },
      icon(isQuiet ? (last && !found.unsent ? "check-lg" : "clock-history") : shape),
      h(
        "span",
        {},
        h("strong", {}, main),
        more ? ` · ${more}` : "",
        alerts.map((one) => h("span", { class: "bar-alert" }, one)),
      ),
    ),
    themeButton(),
    h(
      "button",
      {
        class: "bar-lock",
        type: "button",
        onclick: wetLock,
        "aria-label": gettext("Lock the screen against rain"),
      },
      icon("lock"),
      h("span", {}, gettext("Lock")),
    ),
  );
}

export const tryNow = () => send({ force: true });
