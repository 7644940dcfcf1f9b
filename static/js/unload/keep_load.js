// On the page of a firing whose load is open: the load is kept before anybody walks to the shed with it.
import { keepLoad, keepPage } from "./keep.js";
import { fetchLoad } from "./loads.js";
import * as store from "./store.js";

async function begin({ load: address }) {
  const load = await fetchLoad(address);
  if (!load) return;
  await store.note("person", load.person);
  await keepLoad(load);
  await keepPage();
  document.documentElement.dataset.loadKept = "yes";
}

const here = document.querySelector("[data-keep-load]");
if (here) begin({ load: here.dataset.keepLoad }).catch((error) => console.warn("The load could not be kept here.", error));
