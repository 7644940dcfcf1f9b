// Begins the unload page: from the load that came with it, else from the one that is kept on this phone.
// Where a phone keeps nothing (some private windows), the page stays as the studio sent it, with its forms.
import { unload } from "./app.js";
import { recall } from "./clock.js";
import { keepDelivering } from "./deliver.js";
import { keepLoad, keepPage, photosHere } from "./keep.js";
import { showKeptLoads } from "./kept_loads.js";
import * as store from "./store.js";

const main = document.querySelector("[data-unload-page]");
const PAGE = /^\/firings\/(\d+)\/unload\/$/;

async function begin() {
  await recall();
  const sent = document.getElementById("unload-load");
  const number = Number(PAGE.exec(location.pathname)?.[1]);
  const load = sent ? JSON.parse(sent.textContent) : number ? await store.get("loads", number) : null;
  if (!load) {
    await showKeptLoads(main);
    keepDelivering();
    return;
  }
  if (sent) await store.note("person", load.person);
  const person = sent ? load.person : await store.fact("person");
  if (!person) {
    await showKeptLoads(main);
    return;
  }
  const at = new URLSearchParams(location.search).get("place");
  // Back and forth in the browser shows what comes next, not what was asked for once.
  if (at) history.replaceState(null, "", location.pathname);
  const photos = await photosHere();
  await unload(main, load, { person, photos, at });
  if (!sent) return;
  await keepLoad(load);
  for (const [address, here] of await photosHere()) if (!photos.has(address)) photos.set(address, here);
  await keepPage();
  main.dataset.stored = "yes";
}

try {
  await begin();
} catch (error) {
  console.warn("This browser keeps nothing; the page works without.", error);
  await import("../unload.js");
}

