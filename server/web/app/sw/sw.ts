/// <reference lib="webworker" />
// The worker keeps the page's own files, each checked by its digest, so that
// the page opens without a network. It never keeps an answer of the server.
//
// A new worker waits until the page says that nobody is typing.

declare const self: ServiceWorkerGlobalScope;
declare const FILES: Record<string, string>; // path in the scope -> SHA-256 in hex, put in by the build
declare const VERSION: string; // digest of that list

const shelf = `wayfall-page-${VERSION}`;

async function digest(bytes: ArrayBuffer): Promise<string> {
  const sum = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...sum].map((b) => b.toString(16).padStart(2, "0")).join("");
}

async function keep(): Promise<void> {
  const cache = await caches.open(shelf);
  await Promise.all(Object.entries(FILES).map(async ([path, want]) => {
    const url = new URL(path, self.registration.scope);
    const old = await caches.match(url);
    if (old && (await digest(await old.clone().arrayBuffer())) === want) return cache.put(url, old);
    const answer = await fetch(path === "index.html" ? self.registration.scope : url, { cache: "no-cache", credentials: "omit" });
    if (!answer.ok || answer.redirected) throw new Error(`${path}: ${answer.status}`);
    if ((await digest(await answer.clone().arrayBuffer())) !== want) throw new Error(`${path} is not the file of this version`);
    return cache.put(url, answer);
  }));
}

async function tidy(): Promise<void> {
  for (const name of await caches.keys()) {
    if (name.startsWith("wayfall-page-") && name !== shelf) await caches.delete(name);
  }
  await self.clients.claim();
}

async function answer(request: Request, url: URL): Promise<Response> {
  const cache = await caches.open(shelf);
  const home = new URL("./", self.registration.scope);
  const kept = await cache.match(request.mode === "navigate" ? new URL("index.html", home) : url);
  return kept ?? fetch(request);
}

self.addEventListener("install", (e) => e.waitUntil(keep()));
self.addEventListener("activate", (e) => e.waitUntil(tidy()));
self.addEventListener("message", (e) => { if (e.data === "take over") void self.skipWaiting(); });
self.addEventListener("fetch", (e) => {
  const url = new URL(e.request.url);
  const mine = url.origin === self.location.origin && url.pathname.startsWith(new URL(self.registration.scope).pathname);
  if (e.request.method !== "GET" || !mine) return;
  url.search = "";
  url.hash = "";
  e.respondWith(answer(e.request, url));
});

export {};
