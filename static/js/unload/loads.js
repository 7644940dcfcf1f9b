// Loads as the studio has them now.
import { keepLoad } from "./keep.js";

export const isOpenLoad = (state) => state === "unloading" || state === "cooling";

// The load from the studio, or null without a signal or when it is closed.
export async function fetchLoad(address) {
  try {
    const reply = await fetch(address, { cache: "no-store", redirect: "manual", headers: { Accept: "application/json" } });
    const load = reply.ok ? await reply.json() : null;
    return load?.places ? load : null;
  } catch {
    return null;
  }
}

// Something was found in the kiln: the load that the page works with gets its new places, and is kept.
export async function refetch(load) {
  const fresh = await fetchLoad(load.urls.load);
  if (!fresh) return;
  load.layers = fresh.layers;
  load.places = fresh.places;
  load.shelves = fresh.shelves;
  await keepLoad(fresh);
}
