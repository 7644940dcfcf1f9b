// What the phone keeps of unloading, in the browser's own database:
//   queue   what was answered, photographed or undone and is not delivered yet, in order
//   loads   the open loads, without names
//   photos  the before-photos of those loads, by address
//   facts   who is signed in here, the shelf that stands chosen, what was answered last
const NAME = "wareboard-unload";
const VERSION = 1;
let opened = null;

function open() {
  opened ??= new Promise((done, fail) => {
    const asked = indexedDB.open(NAME, VERSION);
    asked.onupgradeneeded = () => {
      const db = asked.result;
      db.createObjectStore("queue", { keyPath: "seq", autoIncrement: true }).createIndex("id", "id", { unique: true });
      db.createObjectStore("loads", { keyPath: "unload" });
      db.createObjectStore("photos", { keyPath: "address" });
      db.createObjectStore("facts");
    };
    asked.onsuccess = () => {
      const db = asked.result;
      db.onversionchange = () => db.close();
      db.onclose = () => {
        opened = null;
      };
      done(db);
    };
    asked.onerror = () => fail(asked.error);
  });
  opened.catch(() => {
    opened = null;
  });
  return opened;
}

// Runs `act(store, ...)` in one transaction and gives what its request found, once it is on the disk.
// A phone may drop its database behind our back: then it is opened again, once.
async function work(names, mode, act, again = true) {
  const db = await open();
  let deal;
  try {
    deal = db.transaction(names, mode, { durability: "strict" });
  } catch (error) {
    opened = null;
    if (again) return work(names, mode, act, false);
    throw error;
  }
  return new Promise((done, fail) => {
    let asked;
    deal.oncomplete = () => done(asked instanceof IDBRequest ? asked.result : asked);
    deal.onabort = () => fail(deal.error ?? new Error("Nothing was kept."));
    asked = act(...names.map((name) => deal.objectStore(name)));
  });
}

export const change = (names, act) => work(names, "readwrite", act);
export const all = (name) => work([name], "readonly", (store) => store.getAll());
export const get = (name, key) => work([name], "readonly", (store) => store.get(key));
export const count = (name) => work([name], "readonly", (store) => store.count());
export const put = (name, value) => change([name], (store) => store.put(value));
export const remove = (name, key) => change([name], (store) => store.delete(key));
export const fact = (key) => get("facts", key);
export const note = (key, value) => change(["facts"], (store) => store.put(value, key));

// Whether there is anything at all, without making a database on phones that never unload.
export async function isThere() {
  if (opened) return true;
  if (!globalThis.indexedDB) return false;
  if (!indexedDB.databases) return true;
  return (await indexedDB.databases()).some(({ name }) => name === NAME);
}

// Loads and their photos go; what waits to be delivered stays.
export async function forgetLoads(which = () => true) {
  const loads = await all("loads");
  const staying = loads.filter((load) => !which(load));
  if (staying.length === loads.length) return;
  const wanted = new Set(staying.flatMap((load) => Object.values(load.places).map((place) => place.photo)));
  const addresses = await work(["photos"], "readonly", (photos) => photos.getAllKeys());
  await change(["loads", "photos"], (store, photos) => {
    for (const load of loads) if (which(load)) store.delete(load.unload);
    for (const address of addresses) if (!wanted.has(address)) photos.delete(address);
  });
}
