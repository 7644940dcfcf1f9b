// On every other page of whoever unloads: what still waits on this phone is delivered, loads that are closed
// by now leave it, and signing out says what it would leave behind.
import { ask, HELLO, keepDelivering } from "./deliver.js";
import { forgetAll, tidy } from "./keep.js";
import * as queue from "./queue.js";
import * as store from "./store.js";
import { translateMany } from "../words.js";

const leaving = document.querySelector("form[data-sign-out]");

async function begin() {
  if (!(await store.isThere())) return;
  if (leaving) leaving.addEventListener("submit", signOut);
  if (await store.count("loads")) {
    const hello = await ask(HELLO);
    if (hello.kind === "json") await tidy(hello.body.loads);
  }
  await keepDelivering();
}

// The first press says what waits; the second leaves. What waits stays, for whoever gave it and nobody else.
async function signOut(event) {
  event.preventDefault();
  const waiting = (await queue.entries()).length;
  if (waiting && !leaving.dataset.told) {
    leaving.dataset.told = "yes";
    const note = document.getElementById("sign-out-note");
    note.hidden = false;
    note.querySelector("[data-count]").textContent = translateMany("{count} answer", "{count} answers", waiting);
    return;
  }
  await forgetAll();
  leaving.removeEventListener("submit", signOut);
  leaving.requestSubmit();
}

begin().catch((error) => console.warn("What is kept on this phone could not be looked at.", error));
