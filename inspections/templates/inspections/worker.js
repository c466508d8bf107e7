// Keeps the walk's app on the phone, so that it opens without signal. It keeps nothing of anybody: lists and records
// are in the app's own store, and every other page comes from the server or not at all.
const KEPT = "holdair-{{ version }}";
const PAGE = "{{ page }}";
const KEEP = {{ keep|safe }};

self.addEventListener("install", (event) => {
  const fresh = KEEP.map((address) => new Request(address, { cache: "reload" }));
  event.waitUntil(caches.open(KEPT).then((kept) => kept.addAll(fresh)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches.keys()
      .then((names) => Promise.all(names.filter((name) => name.startsWith("holdair-") && name !== KEPT).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

const kept = (address) => caches.open(KEPT).then((cache) => cache.match(address));
// Pages from the server go with the server's own sheets and scripts: after an upgrade the kept ones are another version's.
const fromElsewhere = (request) => request.mode !== "navigate" && Boolean(request.referrer) && !KEEP.includes(new URL(request.referrer).pathname);

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (KEEP.includes(pathname)) {
    event.respondWith(fromElsewhere(request) ? fetch(request).catch(() => kept(pathname)) : kept(pathname).then((found) => found || fetch(request)));
  } else if (request.mode === "navigate") {
    // Without signal, whatever was asked for, the walk is what there is.
    event.respondWith(fetch(request).catch(() => Response.redirect(PAGE)));
  }
});
