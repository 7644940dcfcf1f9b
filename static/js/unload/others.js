// Somebody else at the same kiln: their answers are asked for every few seconds while the page is looked at.
import { onTold } from "./queue.js";
import { isOpenLoad, refetch } from "./loads.js";
import { translate } from "../words.js";

const EVERY_MS = 4000;

// `told(answers)` with the answers that stand by piece; `changed(words)` when the load is no longer open.
export function watchOthers(load, { told, changed }) {
  let tag = "";
  let deliveredAt = 0;
  let stopped = false;
  onTold((message) => {
    if (message.what === "delivered") deliveredAt = performance.now();
    // Most often somebody else was faster.
    if (message.what === "refused") look();
  });

  async function look() {
    if (stopped || document.visibilityState !== "visible") return;
    const asked = performance.now();
    let reply;
    try {
      reply = await fetch(load.urls.state, {
        cache: "no-store",
        redirect: "manual",
        headers: { Accept: "application/json", ...(tag ? { "If-None-Match": tag } : {}) },
        signal: AbortSignal.timeout(15_000),
      });
      if (reply.status === 304) told(null);
      if (reply.status !== 200) return;
      const body = await reply.json();
      // A reply from before our own answers arrived would show them as open again.
      if (body.firing !== load.unload || asked < deliveredAt) return;
      tag = reply.headers.get("ETag") ?? "";
      told(Object.fromEntries(Object.entries(body.places).filter(([, place]) => place.answered)));
      if (Object.keys(body.places).some((code) => !load.places[code])) await refetch(load);
      if (!isOpenLoad(body.state)) {
        stopped = true;
        changed(translate("This firing is closed by the books. What still waits is kept on the list; ask the tutor to reopen it."));
      }
    } catch {
      // no signal, or nothing of ours: asked again in a moment
    }
  }

  look();
  const timer = setInterval(() => (stopped ? clearInterval(timer) : look()), EVERY_MS);
}
