// Keeps the field page on the phone. VERSION and FILES stand before this text: one cache a version.

/** The worker itself; the types of pages do not know it. @type {any} */
const worker = self;
const SHELL = `field-${VERSION}`;

async function keepShell() {
  const cache = await caches.open(SHELL);
  const fetched = await Promise.all(
    FILES.map(async (address) => {
      const response = await fetch(address, { cache: "reload", redirect: "error" });
      if (!response.ok) throw new Error(`${address} answered ${response.status}`);
      return { address, response };
    }),
  );
  await Promise.all(fetched.map(({ address, response }) => cache.put(address, response)));
  await worker.skipWaiting();
}

async function dropOld() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith("field-") && name !== SHELL).map((name) => caches.delete(name)));
  await worker.clients.claim();
}

async function shell() {
  const cache = await caches.open(SHELL);
  return (await cache.match("/field")) ?? fetch("/field");
}

async function elsewhere(request) {
  try {
    return await fetch(request);
  } catch {
    return shell();
  }
}

/** Does the asker get this file from the cache? A file that other pages use too only goes to the field page. */
async function isOwn({ clientId, request }) {
  const { pathname } = new URL(request.url);
  if (pathname.includes("/field")) return true;
  const asker = clientId ? await worker.clients.get(clientId) : null;
  return asker !== null && asker !== undefined && new URL(asker.url).pathname === "/field";
}

async function file(event) {
  const cache = await caches.open(SHELL);
  const found = (await isOwn(event)) ? await cache.match(event.request, { ignoreVary: true }) : null;
  return found ?? fetch(event.request);
}

worker.addEventListener("install", (event) => event.waitUntil(keepShell()));
worker.addEventListener("activate", (event) => event.waitUntil(dropOld()));
worker.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== worker.location.origin) return;
  if (event.request.mode === "navigate") {
    event.respondWith(address.pathname === "/field" ? shell() : elsewhere(event.request));
  } else if (!address.pathname.startsWith("/api/") && !address.pathname.startsWith("/sw.js")) {
    event.respondWith(file(event));
  }
});
