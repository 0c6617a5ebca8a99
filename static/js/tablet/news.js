// Tells every screen, in this tab and in others, that something on this tablet changed.
const channel = new BroadcastChannel("coachlight");
const listeners = new Set();

export function announce(news) {
  for (const listener of listeners) listener(news, true);
  channel.postMessage(news);
}

export function listen(listener) {
  listeners.add(listener);
}

channel.addEventListener("message", (event) => {
  for (const listener of listeners) listener(event.data, false);
});
