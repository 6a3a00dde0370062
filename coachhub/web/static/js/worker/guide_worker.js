// Keeps the filming guide and its upload page for places without signal: one page that names nobody, and static files.
// The site puts `GUIDE` before this text. No other page and no data of anybody is ever kept here.

const worker = /** @type {any} */ (globalThis);
const { version, page, files } = worker.GUIDE;
const NAME = `guide-${version}`;

worker.addEventListener("install", (/** @type {any} */ event) => event.waitUntil(fill()));
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(takeOver()));
worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const { request } = event;
  if (request.method !== "GET") return;
  if (request.mode === "navigate") event.respondWith(fetch(request).catch(() => kept(page)));
  else if (files.includes(new URL(request.url).pathname)) event.respondWith(keptFirst(request));
});

async function fill() {
  const cache = await caches.open(NAME);
  // Without cookies: the page is the one that a stranger gets.
  await cache.addAll([page, ...files].map((address) => new Request(address, { cache: "reload", credentials: "omit" })));
  await worker.skipWaiting();
}

async function takeOver() {
  for (const name of await caches.keys()) {
    if (name.startsWith("guide-") && name !== NAME) await caches.delete(name);
  }
  await worker.clients.claim();
}

/** @param {string} address */
async function kept(address) {
  const cache = await caches.open(NAME);
  return (await cache.match(address, { ignoreVary: true })) ?? Response.error();
}

/** @param {Request} request */
async function keptFirst(request) {
  const cache = await caches.open(NAME);
  return (await cache.match(request, { ignoreVary: true })) ?? fetch(request);
}
