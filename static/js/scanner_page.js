// Scanning on a page with a form for it: what the camera reads, and what is typed, is sent one after the
// other, in order, and nothing is called taken before the studio has said so. What could not be sent waits
// here, and everything read after it waits behind it, so that no piece lands on the wrong shelf.
import { useCamera } from "./scanner_camera.js";
import { tell } from "./scanner_signs.js";
import { translateMany } from "./words.js";

const PATIENCE_MS = 12_000;

const form = document.querySelector("form[data-scan-form]");
const field = form.querySelector("[data-scan]");
const waitingNote = document.querySelector("[data-waiting]");
const waiting = []; // { text, id, typed }
let sending = false;
let stuck = false;

function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function take(text, typed = false) {
  // The same code again while it waits is not another scan.
  if (!waiting.some((one) => one.text === text)) waiting.push({ text, id: newId(), typed });
  send();
}

async function send() {
  if (sending) return;
  sending = true;
  try {
    while (waiting.length) {
      const [scan] = waiting;
      const answer = await ask(scan);
      if (answer.outcome === "not-sent") {
        tell("not-sent", { sentence: answer.sentence });
        stuck = true;
        return;
      }
      stuck = false;
      waiting.shift();
      if (answer.near && scan.typed) {
        leave(scan);
        return;
      }
      // Who types a mark with no shelf chosen wants the piece's page; a camera goes on reading.
      if (scan.typed && answer.href && !waiting.length) {
        location.assign(answer.href);
        return;
      }
      tell(answer.outcome, answer);
      // What was typed and not taken stays to be put right, unless something else is being typed by now.
      if (scan.typed && answer.outcome !== "taken" && !field.value) field.value = scan.text;
      if (answer.outcome === "taken") await refresh();
    }
  } finally {
    sending = false;
    showWaiting();
  }
}

async function ask(scan) {
  const data = new FormData(form);
  data.set(field.name, scan.text);
  data.set("client_id", scan.id);
  try {
    const reply = await fetch(form.action, {
      method: "POST",
      body: data,
      headers: { Accept: "application/json" },
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    if (reply.headers.get("Content-Type")?.startsWith("application/json")) {
      const answer = await reply.json();
      if (["taken", "refused", "unknown"].includes(answer.outcome)) return answer;
    }
    // A page instead of an answer: signed out, an old form, or trouble at the studio.
    return { outcome: "not-sent", sentence: words(reply.status < 500 ? "signed-out" : "trouble") };
  } catch {
    return { outcome: "not-sent", sentence: words("no-signal") };
  }
}

function words(of) {
  return waitingNote.dataset[of.replace(/-(.)/g, (_, letter) => letter.toUpperCase())];
}

// A typed mark near others: the page itself asks which one is meant.
function leave(scan) {
  field.value = scan.text;
  form.dataset.leaving = "1";
  form.requestSubmit();
}

// What the page says of the studio is asked anew; the camera and what is being typed stay.
async function refresh() {
  try {
    const reply = await fetch(location.pathname, { headers: { Accept: "text/html" } });
    if (!reply.ok || reply.redirected) return;
    const fresh = new DOMParser().parseFromString(await reply.text(), "text/html");
    for (const part of document.querySelectorAll("[data-fresh]")) {
      const other = fresh.getElementById(part.id);
      if (other) part.replaceWith(document.adoptNode(other));
    }
  } catch {
    // The scan is taken; the page shows it the next time.
  }
}

function showWaiting() {
  waitingNote.hidden = !stuck || !waiting.length;
  waitingNote.querySelector("[data-waiting-count]").textContent =
    translateMany("{count} scan is not sent.", "{count} scans are not sent.", waiting.length);
}

waitingNote.querySelector("[data-waiting-send]").addEventListener("click", send);
window.addEventListener("online", send);
window.addEventListener("beforeunload", (event) => {
  if (waiting.length && !form.dataset.leaving) event.preventDefault();
});

form.addEventListener(
  "submit",
  (event) => {
    if (form.dataset.leaving) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const text = field.value.trim();
    field.value = "";
    field.focus({ preventScroll: true });
    if (text) take(text, true);
  },
  { capture: true },
);

// A hand scanner types wherever the cursor is; when it is in no field, this one is meant.
document.addEventListener("keydown", (event) => {
  const { key, target } = event;
  if (key.length !== 1 || key === " " || event.ctrlKey || event.metaKey || event.altKey) return;
  if (!target.closest("input, textarea, select, [contenteditable]")) field.focus({ preventScroll: true });
});

const camera = document.querySelector("[data-camera]");
if (camera) useCamera(camera, take);
