// What waits on this phone. An entry is written here before anything else happens, and leaves only when the
// studio has said that it is done, or when somebody takes it off the list by hand.
//
//   { seq, id, kind: "answer" | "undo" | "photo", state: "draft" | "waiting" | "refused", words, why,
//     unload, to, place, mark, person, at, offset_ms, ... }
//
// `id` is the act's own: sent twice, it is one act. `at` is by this phone's clock; `offset_ms` is how far that
// clock was behind the studio's, where the phone knew. `words` says what keeps it here, if anything does.
import * as store from "./store.js";

const channel = globalThis.BroadcastChannel ? new BroadcastChannel("wareboard-unload") : null;
const listeners = new Set();

// `told({what, ...})` here and in every other tab: "queue", "delivered" with its entries, "status" with a state.
export function tell(message) {
  channel?.postMessage(message);
  for (const listener of listeners) listener(message);
}

export function onTold(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

channel?.addEventListener("message", ({ data }) => {
  for (const listener of listeners) listener(data);
});

export const newId = () =>
  crypto.randomUUID?.() ?? [...crypto.getRandomValues(new Uint8Array(16))].map((n) => n.toString(16).padStart(2, "0")).join("");

export const entries = () => store.all("queue");

// Writes entries in this order, or changes those that are here already, all or none.
export async function keep(list) {
  await store.change(["queue"], (queue) => {
    for (const entry of list) queue.put(entry);
  });
  tell({ what: "queue" });
}

export async function take(list) {
  await store.change(["queue"], (queue) => {
    for (const entry of list) queue.delete(entry.seq);
  });
  tell({ what: "queue" });
}

// Delivered: they leave the queue, and the load that is kept here knows their answers, in one step.
export async function settle(list) {
  await store.change(["queue", "loads"], (queue, loads) => {
    for (const entry of list) queue.delete(entry.seq);
    const acts = list.filter((entry) => entry.kind !== "photo");
    for (const unload of new Set(acts.map((entry) => entry.unload))) {
      const asked = loads.get(unload);
      asked.onsuccess = () => {
        const load = asked.result;
        if (!load) return;
        for (const entry of acts) if (entry.unload === unload) applied(load.answers, entry);
        loads.put(load);
      };
    }
  });
  tell({ what: "delivered", entries: list.map(({ data, ...rest }) => rest) });
}

// What an act makes of the answers that stand, by piece.
export function applied(answers, entry) {
  if (entry.kind === "answer") {
    answers[entry.place] = { answered: true, client_id: entry.id, outcome: entry.outcome, at: entry.at, mine: true };
  } else if (entry.kind === "undo" && answers[entry.place]?.client_id === entry.undoes) {
    delete answers[entry.place];
  }
  return answers;
}

export const isWaiting = (entry) => entry.state === "waiting";
export const needsYou = (entry) => entry.state === "refused" || (entry.state === "waiting" && Boolean(entry.words));
