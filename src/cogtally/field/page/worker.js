// Keeps the page for times without a network (the folder form). It stores only files of which it was
// given the fingerprint, so that no older one from a cache on the way comes in; and it does not take
// the place of a page that was made later, whichever worker a host hands out.
const MADE = "{{made}}", FILES = {{files}};
const OURS = `field ${self.registration.scope} `, NAME = `${OURS}${MADE}`;

async function fingerprint(response) {
  const sum = await crypto.subtle.digest("SHA-256", await response.arrayBuffer());
  return Array.from(new Uint8Array(sum), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function olderOrNewer() {
  const names = (await caches.keys()).filter((name) => name.startsWith(OURS) && name !== NAME);
  return { newer: names.some((name) => name > NAME), names };
}

self.addEventListener("install", (event) => event.waitUntil((async () => {
  if ((await olderOrNewer()).newer) throw new Error("a newer page is kept");
  const found = await Promise.all(Object.entries(FILES).map(async ([name, sum]) => {
    const response = await fetch(name, { cache: "reload" });
    if (!response.ok || await fingerprint(response.clone()) !== sum) throw new Error(`${name} differs`);
    return [name, response];
  }));
  const cache = await caches.open(NAME);
  for (const [name, response] of found) await cache.put(name, response);
  await self.skipWaiting();
})()));

self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of (await olderOrNewer()).names) await caches.delete(name);
  await self.clients.claim();
})()));

self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET") return;
  event.respondWith((async () => {
    const cache = await caches.open(NAME);
    const asked = event.request.mode === "navigate" ? "index.html" : event.request;
    return await cache.match(asked, { ignoreSearch: true }) ?? fetch(event.request);
  })());
});
