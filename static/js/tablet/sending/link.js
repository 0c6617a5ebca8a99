// How the line to the server stands, told to every view; where the server's pages are, and what this device
// is called.
import { announce } from "../news.js";

export const urls = JSON.parse(document.body.dataset.urls);
export const APP = document.body.dataset.appVersion;

// idle · sending · offline · signed-out · other-person · update · trouble
export const link = { state: "idle", words: "", isRevoked: false, offset_ms: null };

export function setLink(state, words = "") {
  Object.assign(link, { state, words });
  announce({ kind: "link" });
}

export const deviceName = () => {
  const kind = /iPad|Tablet|Android/.exec(navigator.userAgent)?.[0] ?? "Computer";
  return `${kind}, ${navigator.language}`.slice(0, 64);
};
