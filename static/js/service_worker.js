// Gives out the unload page and its files where there is no signal. It keeps nothing about pieces or people:
// those stand in the page's own database. Every page is asked of the studio first.
const CACHE = "wareboard-page";
const FRAME = "/unload/kept/";
const UNLOAD = /^\/firings\/\d+\/unload\/$/;
const PATIENCE_MS = 4000;

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches
      .open(CACHE)
      .then((cache) => cache.add(new Request(FRAME, { cache: "reload" })))
      .then(() => self.skipWaiting()),
  );
});

self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(request, UNLOAD.test(pathname) || pathname === FRAME));
  else if (pathname.startsWith("/static/")) event.respondWith(file(request));
});

// The studio's own page; without a signal, or with so little of one that nothing comes, the frame that is kept.
async function page(request, isUnload) {
  const asked = fetch(request);
  asked.catch(() => {});
  try {
    const reply = await (isUnload ? inTime(asked) : asked);
    if (!isUnload || reply.status < 500) return reply;
    return (await kept()) ?? reply;
  } catch {
    return (await kept()) ?? asked;
  }
}

const kept = async () => (await caches.open(CACHE)).match(FRAME);

function inTime(asked) {
  return Promise.race([asked, new Promise((_, late) => setTimeout(late, PATIENCE_MS))]);
}

// Files: as the studio has them now, else as they were.
async function file(request) {
  const cache = await caches.open(CACHE);
  const here = await cache.match(request.url);
  try {
    const reply = await (here ? inTime(fetch(request)) : fetch(request));
    if (reply.ok && here) cache.put(request.url, reply.clone());
    return reply;
  } catch (error) {
    if (here) return here;
    throw error;
  }
}
