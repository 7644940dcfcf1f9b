// Keeps an open load on the phone before it is carried to the shed: the load without names, its photos of
// before the firing, and the page itself. All of it goes when the load is closed or its person signs out.
import * as store from "./store.js";

const FRAME = "/unload/kept/";
export const CACHE = "wareboard-page";
const AT_ONCE = 2;

// The load as it may lie on a phone: no maker, nobody's name.
export function withoutNames(load) {
  const places = Object.entries(load.places).map(([code, { whose, ...place }]) => [code, place]);
  const answers = Object.entries(load.answers).map(([code, { by, words, ...answer }]) => [code, answer]);
  return { ...load, places: Object.fromEntries(places), answers: Object.fromEntries(answers) };
}

export async function keepLoad(load) {
  await store.put("loads", withoutNames(load));
  await keepPhotos(load);
}

// Fetches what is missing, a few at a time so that answers are not held up. Gives how many are not here yet.
async function keepPhotos(load) {
  const wanted = Object.values(load.places).map((place) => place.photo).filter(Boolean);
  const here = new Set(await store.change(["photos"], (photos) => photos.getAllKeys()));
  const missing = wanted.filter((address) => !here.has(address));
  let left = missing.length;
  const fetchNext = async () => {
    for (let address = missing.shift(); address; address = missing.shift()) {
      try {
        const reply = await fetch(address);
        if (!reply.ok || !reply.headers.get("Content-Type")?.startsWith("image/")) continue;
        await store.put("photos", { address, type: "image/jpeg", data: await reply.arrayBuffer() });
        left -= 1;
      } catch {
        // asked for again when the page is next opened with a signal
      }
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, fetchNext));
  return left;
}

// The photos that are here, as addresses the page can show without a signal.
export async function photosHere() {
  const kept = await store.all("photos");
  return new Map(
    kept.map(({ address, type, data }) => [address, URL.createObjectURL(new Blob([data], { type }))]),
  );
}

// The page and its files, and the worker that gives them out when there is no signal.
export async function keepPage() {
  if (!("serviceWorker" in navigator) || !globalThis.caches) return;
  await navigator.serviceWorker.register("/unload-worker.js", { scope: "/" });
  const cache = await caches.open(CACHE);
  const named = document.querySelectorAll("link[rel=stylesheet], link[rel=icon], script[src], meta[name=keep]");
  const files = [...named].map((node) => node.href || node.src || node.content);
  const loaded = performance.getEntriesByType("resource").map((entry) => entry.name);
  const ours = [...files, ...loaded, new URL("./", import.meta.url) + "app.js"].filter((address) => {
    const { origin, pathname } = new URL(address, location);
    return origin === location.origin && pathname.startsWith("/static/");
  });
  await Promise.allSettled(
    [FRAME, ...new Set(ours)].map(async (address) => {
      const reply = await fetch(address, { credentials: "same-origin" });
      if (reply.ok && !reply.redirected) await cache.put(address, reply);
    }),
  );
}

// Loads that are closed by now leave the phone.
export async function tidy(openLoads) {
  const open = new Set(openLoads);
  await store.forgetLoads((load) => !open.has(load.unload));
}

// All that is not waiting goes: on signing out.
export async function forgetAll() {
  await store.forgetLoads();
  await store.change(["facts"], (facts) => facts.clear());
  if (globalThis.caches) await caches.delete(CACHE);
}
