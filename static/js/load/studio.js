// Talking to the studio: a change is sent, and the parts of the page that show the load come back.
import { later, translate } from "../words.js";

const HEADER = "X-Load-Editor";
const NO_SIGNAL = later("There is no signal, so nothing was changed. Do it again when the signal is back.");
const BROKEN = later("The studio gave no answer that can be used. Load the page again.");

// A number of this change's own: sent twice, it counts once.
function ownNumber() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export class Studio {
  busy = false;

  async post(url, words) {
    const data = new FormData();
    data.set("client_id", ownNumber());
    data.set("csrfmiddlewaretoken", document.querySelector("#board input[name=csrfmiddlewaretoken]").value);
    for (const [name, value] of Object.entries(words)) data.set(name, value);
    return this.ask(url, { method: "POST", body: data });
  }

  async send(form, submitter) {
    return this.ask(form.action, { method: "POST", body: new FormData(form, submitter) });
  }

  async get(code) {
    const url = new URL(location.pathname, location.href);
    url.searchParams.set("part", "board");
    if (code) url.searchParams.set("piece", code);
    return this.ask(url, {});
  }

  // {said, problems, parts}; without parts when there was no answer.
  async ask(url, how) {
    this.busy = true;
    try {
      const answer = await fetch(url, { ...how, headers: { [HEADER]: "1" }, redirect: "error" });
      if (![200, 422].includes(answer.status)) return { said: "", problems: [translate(BROKEN)] };
      return await answer.json();
    } catch {
      return { said: "", problems: [translate(navigator.onLine ? BROKEN : NO_SIGNAL)] };
    } finally {
      this.busy = false;
    }
  }

  // Put the new parts in place of the old. What was unfolded stays so; what a part leaves out stays as it was.
  renew(parts) {
    const open = new Map([...document.querySelectorAll("details[id]")].map((each) => [each.id, each.open]));
    const worth = document.querySelector("[data-part=worth]");
    for (const [name, text] of Object.entries(parts)) {
      const old = document.querySelector(`[data-part=${name}]`);
      const fresh = new DOMParser().parseFromString(text, "text/html").body.firstElementChild;
      old?.replaceWith(document.adoptNode(fresh));
    }
    const empty = document.querySelector("[data-part=worth]");
    if (worth && empty && !empty.childElementCount && !parts.worth) empty.replaceWith(worth);
    for (const [id, was] of open) {
      const each = document.getElementById(id);
      if (each && was) each.open = true;
    }
  }
}
