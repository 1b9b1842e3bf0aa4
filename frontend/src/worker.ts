/**
 * Offline, where the address is secure: what was shown once is shown again when the bench does not answer.
 * Posts never come here: they wait in the page's own queue.
 */

/// <reference lib="webworker" />
declare const self: ServiceWorkerGlobalScope;

const PAGES = "trysquare-pages-1";
const MOST_PAGES = 400;

self.addEventListener("install", () => void self.skipWaiting());
self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name !== PAGES) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin || url.pathname === "/changes") return;
  event.respondWith(fromBench(request, event));
});

async function fromBench(request: Request, event: FetchEvent): Promise<Response> {
  const cache = await caches.open(PAGES);
  try {
    const answer = await fetch(request);
    if (answer.ok && answer.status === 200) event.waitUntil(keep(cache, request, answer.clone()));
    // A device that was shut out keeps nothing.
    if (answer.status === 401) event.waitUntil(caches.delete(PAGES));
    return answer;
  } catch (error) {
    const kept = await cache.match(request, { ignoreVary: true });
    if (kept) return kept;
    throw error;
  }
}

async function keep(cache: Cache, request: Request, answer: Response): Promise<void> {
  await cache.put(request, answer);
  const names = await cache.keys();
  for (const old of names.slice(0, Math.max(0, names.length - MOST_PAGES))) await cache.delete(old);
}

export {};
