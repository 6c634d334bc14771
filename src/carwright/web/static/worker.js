// Pages seen lately, kept for when the shop cannot be reached. Nothing is ever taken from here while it can be.
const KEPT = "carwright-1";
const MOST = 80;

self.addEventListener("install", (event) => event.waitUntil(self.skipWaiting()));
self.addEventListener("activate", (event) =>
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name.startsWith("carwright-") && name !== KEPT) await caches.delete(name);
      await self.clients.claim();
    })(),
  ),
);

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== location.origin || address.pathname.startsWith("/api/")) return;
  event.respondWith(answer(event.request));
});

async function answer(request) {
  const kept = await caches.open(KEPT);
  try {
    const fresh = await fetch(request);
    if (fresh.ok && fresh.type === "basic" && !fresh.redirected) {
      await kept.put(request, fresh.clone());
      const names = await kept.keys();
      if (names.length > MOST) await kept.delete(names[0]);
    }
    return fresh;
  } catch (error) {
    const found = (await kept.match(request)) || (await kept.match(request, { ignoreSearch: true, ignoreVary: true }));
    if (found) return found;
    throw error;
  }
}
