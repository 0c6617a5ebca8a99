{# The service worker: keeps the empty shell and its files. Nothing personal is ever kept here. #}{% autoescape off %}// Keeps the empty shell of the roof tablet and its files, so that it opens without a network. Pages of the shop,
// answers with data and photos are never kept here: what belongs to a job lives in IndexedDB.
const KEPT = "coachlight-shell-{{ version }}";
const SHELL = "{% url 'checklists:tablet' %}";
const FILES = new Set({{ files }});
const PATIENCE_MS = 1000; // a network that hangs is no network
const LONGEST_MS = 20000; // other pages may take their time, but not for ever

const late = (ms) => new Promise((_, refuse) => setTimeout(() => refuse(new Error("late")), ms));
const shell = async () => (await caches.match(SHELL)) ?? Response.error();

self.addEventListener("install", (event) => {
  const fresh = [SHELL, ...FILES].map((name) => new Request(name, { cache: "reload" }));
  event.waitUntil(caches.open(KEPT).then((cache) => cache.addAll(fresh)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const tidy = async () => {
    for (const name of await caches.keys()) if (name.startsWith("coachlight-shell-") && name !== KEPT) await caches.delete(name);
    await self.clients.claim();
  };
  event.waitUntil(tidy());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    const most = url.pathname !== SHELL ? LONGEST_MS : self.navigator.onLine ? PATIENCE_MS : 0;
    event.respondWith(Promise.race([fetch(request), late(most)]).catch(shell));
  } else if (FILES.has(url.pathname)) {
    event.respondWith(caches.match(request, { ignoreSearch: true }).then((kept) => kept ?? fetch(request)));
  }
});
{% endautoescape %}
