// Delivers what waits: in order, in small parts, one tab at a time, again and again until the studio has said
// what became of each. No reply of any kind makes an entry disappear.
import { learn } from "./clock.js";
import * as queue from "./queue.js";
import * as store from "./store.js";
import { later, translate } from "../words.js";

export const HELLO = "/unload/hello.json";
const PART = 8;
const PATIENCE_MS = 30_000;
const PHOTO_PATIENCE_MS = 180_000;
const SOONEST_MS = 3_000;
const LATEST_MS = 300_000;

const SIGN_IN = later(
  "The studio asks who you are, or this Wi-Fi wants you to accept its terms. Sign in again as before; it is kept until then.",
);
const NOT_LET_IN = later(
  "The studio did not let this phone in. Sign in again as whoever gave this answer; it is tried again by itself.",
);
const FAULT = later("The studio’s computer has a fault. It is tried again by itself; tell the tutor if this stays.");
const NOT_OURS = later(
  "Something else answered in the studio’s place. Sign in to the studio again, or to this Wi-Fi; it is tried again by itself.",
);

let wait = SOONEST_MS;
let timer = null;
let running = false;
let status = { state: "idle", others: 0 };

export const lastStatus = () => status;

function say(state, others = status.others) {
  status = { state, others };
  queue.tell({ what: "status", ...status });
}

// What came back: { kind: "json", body, code } or "offline", "sign-in", "fault", "refused", "not-ours".
async function ask(url, options = {}, patience = PATIENCE_MS) {
  const asked = Date.now();
  let reply;
  try {
    reply = await fetch(url, {
      cache: "no-store",
      redirect: "manual",
      signal: AbortSignal.timeout(patience),
      ...options,
      headers: { Accept: "application/json", ...options.headers },
    });
  } catch {
    return { kind: "offline" };
  }
  if (reply.type === "opaqueredirect") return { kind: "sign-in" };
  if (reply.status >= 500) return { kind: "fault", code: reply.status };
  let body = null;
  try {
    body = await reply.json();
  } catch {
    if (reply.ok) return { kind: "not-ours" };
  }
  if (reply.ok && body?.unload === undefined) return { kind: "not-ours" };
  if (body?.now) learn(body.now, asked, Date.now());
  return { kind: reply.ok ? "json" : "refused", code: reply.status, body };
}

const WORDS = { "sign-in": SIGN_IN, fault: FAULT, "not-ours": NOT_OURS };

// Why these are still here; no words: nothing is wrong with them but the signal.
async function mark(list, words) {
  const changed = list.filter((entry) => (entry.words ?? "") !== words);
  if (changed.length) await queue.keep(changed.map((entry) => ({ ...entry, words })));
}

// One delivery of everything that can go. Two tabs never send at once; the second finds nothing left.
export async function deliver() {
  clearTimeout(timer);
  timer = null;
  // Pages without encryption have no locks: then a tab only minds itself, and the studio counts each act once.
  if (!navigator.locks) return running ? tryLater() : run();
  return navigator.locks.request("wareboard-deliver", { ifAvailable: true }, (lock) => (lock ? run() : tryLater()));
}

function tryLater() {
  clearTimeout(timer);
  timer = setTimeout(deliver, wait * (0.75 + Math.random() / 2));
  wait = Math.min(wait * 2, LATEST_MS);
}

// Something has changed for the better: a signal, a look at the page, a new answer.
export function soon() {
  wait = SOONEST_MS;
  return deliver();
}

async function run() {
  running = true;
  try {
    await sendAll();
  } finally {
    running = false;
  }
}

async function sendAll() {
  const waiting = (await queue.entries()).filter(queue.isWaiting);
  if (!waiting.length) {
    say("idle", 0);
    return;
  }
  say("sending");
  const hello = await ask(HELLO);
  if (hello.kind !== "json") {
    // Refused: somebody is signed in who does not unload.
    if (hello.kind !== "offline") await mark(waiting, hello.kind in WORDS ? translate(WORDS[hello.kind]) : `${translate(NOT_LET_IN)} (${hello.code})`);
    say(hello.kind === "refused" ? "sign-in" : hello.kind);
    tryLater();
    return;
  }
  const { person } = hello.body;
  await store.note("person", person);
  const mine = waiting.filter((entry) => entry.person === person);
  const others = waiting.length - mine.length;
  const sent = { secret: hello.body.secret, stopped: "", faults: 0, held: new Set(), left: 0 };
  await acts(mine.filter((entry) => entry.kind !== "photo"), sent);
  if (!sent.stopped) await photos(mine.filter((entry) => entry.kind === "photo"), sent);
  const left = (await queue.entries()).filter(queue.isWaiting).filter((entry) => entry.person === person);
  say(sent.stopped || (left.length && sent.faults ? "fault" : others ? "others" : "idle"), others);
  if (!left.length) wait = SOONEST_MS;
  else if (sent.stopped || sent.faults) tryLater();
  else timer = setTimeout(deliver, 0); // written while we were sending
}

// Answers and undos: parts of one load, in order. A part that is not taken as a whole is sent one by one.
async function acts(list, sent) {
  let part = PART;
  let todo = list;
  while (todo.length && !sent.stopped) {
    todo = todo.filter((entry) => !sent.held.has(entry.place));
    if (!todo.length) return;
    const [first] = todo;
    const end = todo.findIndex((entry) => entry.to !== first.to);
    const these = todo.slice(0, Math.min(part, end < 0 ? todo.length : end));
    const done = await send(first.to, these, sent);
    if (done) todo = todo.slice(these.length);
    else if (these.length > 1) part = 1;
  }
}

async function send(to, these, sent) {
  const body = JSON.stringify({
    person: these[0].person,
    sent_at: new Date().toISOString(),
    entries: these.map(({ seq, state, words, why, to: address, person, ...entry }) => entry),
  });
  const post = () =>
    ask(to, { method: "POST", body, headers: { "Content-Type": "application/json", "X-CSRFToken": sent.secret } });
  return judge(await again(post, sent), these, sent);
}

async function photos(list, sent) {
  for (const entry of list) {
    if (sent.stopped) return;
    const post = () => {
      const form = new FormData();
      for (const name of ["id", "place", "person", "at"]) form.set(name, entry[name]);
      if (entry.offset_ms !== null) form.set("offset_ms", entry.offset_ms);
      form.set("sent_at", new Date().toISOString());
      form.set("photo", new Blob([entry.data], { type: entry.type }), "photo.jpg");
      return ask(entry.to, { method: "POST", body: form, headers: { "X-CSRFToken": sent.secret } }, PHOTO_PATIENCE_MS);
    };
    await judge(await again(post, sent), [entry], sent);
  }
}

// The secret of a page grows old when somebody signs in anew: asked for once more, and sent once more.
async function again(post, sent) {
  const reply = await post();
  if (reply.code !== 403) return reply;
  const hello = await ask(HELLO);
  if (hello.kind !== "json") return hello;
  sent.secret = hello.body.secret;
  return post();
}

// What a reply means for the entries it answers. True when each has been told of.
async function judge(reply, these, sent) {
  if (reply.kind === "json" && Array.isArray(reply.body.results)) {
    const results = new Map(reply.body.results.map((result) => [result.id, result]));
    const done = these.filter((entry) => results.get(entry.id)?.state === "done");
    const refused = these.filter((entry) => results.get(entry.id)?.state === "refused");
    if (refused.length) {
      await queue.keep(
        refused.map((entry) => {
          const { words, why } = results.get(entry.id);
          return { ...entry, state: "refused", words, why };
        }),
      );
      queue.tell({ what: "refused" });
    }
    if (done.length) await queue.settle(done);
    const told = done.length + refused.length === these.length;
    if (!told) sent.stopped = "not-ours";
    return told;
  }
  if (reply.kind === "offline") {
    sent.stopped = "offline";
    return false;
  }
  if (reply.code === 409 && reply.body?.refused === "somebody-else") {
    sent.stopped = "others";
    return false;
  }
  if (reply.kind === "fault" || reply.kind === "refused") {
    if (these.length > 1) return false;
    const [entry] = these;
    if (reply.kind === "fault") {
      await mark(these, `${translate(FAULT)} (${reply.code})`);
      sent.faults += 1;
      sent.held.add(entry.place);
      if (sent.faults > 2) sent.stopped = "fault";
      return true;
    }
    const words = translate(
      "The studio’s computer did not take this ({code}). Try again; if it stays so, answer it on the piece’s page and take it off here.",
      { code: reply.code },
    );
    await queue.keep([{ ...entry, state: "refused", words, why: `http-${reply.code}` }]);
    return true;
  }
  await mark(these, translate(WORDS[reply.kind] ?? NOT_OURS));
  sent.stopped = reply.kind === "json" ? "not-ours" : reply.kind;
  return false;
}

// Sends by itself: when a signal comes, when the page is looked at again, and after a while.
export function keepDelivering() {
  window.addEventListener("online", soon);
  window.addEventListener("pageshow", soon);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") soon();
  });
  return soon();
}

export { ask };
