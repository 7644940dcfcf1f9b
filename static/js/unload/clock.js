// How far this phone's clock is behind the studio's, as far as the phone knows. Entries carry it, so that
// their times are right even when the clock is put right before they are delivered.
import * as store from "./store.js";

let offset = null;

export const offsetMs = () => offset;

export async function recall() {
  offset = (await store.fact("offset_ms")) ?? null;
}

// From a reply that told the studio's time: the phone's clock when it was asked and when it was answered.
export function learn(studioNow, asked, answered) {
  const now = Date.parse(studioNow);
  // A reply that took long says little about the clock.
  if (Number.isNaN(now) || answered < asked || answered - asked > 10_000) return;
  offset = Math.round(now - (asked + answered) / 2);
  store.note("offset_ms", offset).catch(() => {});
}
