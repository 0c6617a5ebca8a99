// How the line to the server stands, told to every view; where the server's pages are, and what this device
// is called.
import { metaGet } from "../db.js";
import { deviceKind } from "../device_kind.js";
import { announce } from "../news.js";

export const urls = JSON.parse(document.body.dataset.urls);
export const APP = document.body.dataset.appVersion;

// idle · sending · offline · signed-out · other-person · update · trouble
// ``who``: what is known of who is signed in: asked · told · nobody · silent (no answer came)
export const link = { state: "idle", words: "", isRevoked: false, offset_ms: null, who: "asked" };

// Told only where no person is kept: then the words for nobody change.
export async function setWho(who) {
  const isNews = link.who !== who;
  link.who = who;
  if (isNews && !(await metaGet("person"))) announce({ kind: "person" });
}

export function setLink(state, words = "") {
  Object.assign(link, { state, words });
  announce({ kind: "link" });
}

export const deviceName = () => deviceKind(navigator);
