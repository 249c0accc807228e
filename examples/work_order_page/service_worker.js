// Keeps the files of this page, which files.json names, so that it opens without a connection. It never answers for
// the adapter: what the panel asks of it is the panel's affair.
const CACHE = "work-order-page";
const PATIENCE_SECONDS = 4;

addEventListener("install", (event) => event.waitUntil(keepAll().then(() => skipWaiting())));
addEventListener("activate", (event) => event.waitUntil(clients.claim()));

async function keepAll() {
  const files = await (await fetch("files.json", { cache: "no-cache" })).json();
  const cache = await caches.open(CACHE);
  await cache.addAll(files.map((file) => new Request(file, { cache: "no-cache" })));
}

// The newest there is; the kept one when the network fails or takes long.
async function newest(request) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(request, { ignoreSearch: true });
  try {
    const signal = kept && AbortSignal.timeout(1000 * PATIENCE_SECONDS);
    const response = await fetch(request.url, { cache: "no-cache", signal });
    if (response.ok) await cache.put(request.url, response.clone());
    return response.ok || !kept ? response : kept;
  } catch (problem) {
    if (kept) return kept;
    throw problem;
  }
}

addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method === "GET" && request.url.startsWith(registration.scope)) event.respondWith(newest(request));
});
