// "Kept here": how much waits on this phone, why, and what needs a person.
import { lastStatus, soon } from "./deliver.js";
import * as queue from "./queue.js";
import { clock, copyOf } from "./screen.js";

const DID = { sound: "sound", flawed: "flawed", lost: "lost" };

const STATE = {
  idle: "Signal",
  sending: "Sending",
  offline: "No signal",
  "sign-in": "Sign in",
  "not-ours": "No studio",
  fault: "Not taken",
  others: "Signal",
};

const WHY = {
  idle: "What you do is kept on this phone first and sent by itself.",
  sending: "It is being sent.",
  offline: "There is no signal. Go on: all is kept on this phone with its own time, and sent by itself when there is one.",
  "sign-in": "The studio asks who you are. Sign in again as before and it is sent; until then it is kept here.",
  "not-ours": "Something else answers in the studio’s place, perhaps this Wi-Fi’s own page. It is tried again by itself.",
  fault: "The studio’s computer does not take it just now. It is tried again by itself.",
  others: "Somebody else is signed in on this phone.",
};

// What was done, in words: "K7H sound, 11:20".
export function wordsOf(entry) {
  const act = { photo: "photo", undo: "undo" }[entry.kind] ?? DID[entry.outcome];
  return `${act}, ${clock(entry.at)}`;
}

export function pieces(count) {
  return `${count} ${count === 1 ? "answer" : "answers"}`;
}

// The words on the button and in the panel, from all entries on this phone.
export function showKept({ main, part }, entries, person) {
  const { state } = lastStatus();
  const mine = entries.filter((entry) => entry.person === person && entry.state !== "draft");
  const others = entries.filter((entry) => entry.person !== person);
  const needs = mine.filter(queue.needsYou);
  const waiting = mine.filter(queue.isWaiting);
  main.dataset.kept = mine.length;
  main.dataset.needs = needs.length;
  main.dataset.others = others.length;
  const kept = waiting.length ? `${waiting.length} waiting` : "nothing";
  part["kept-words"].replaceChildren(
    needs.length ? `${needs.length} need${needs.length === 1 ? "s" : ""} you` : STATE[waiting.length ? state : "idle"],
    document.createElement("br"),
    `Kept here: ${kept}`,
  );
  part["kept-button"].classList.toggle("sync--calm", !needs.length && !waiting.length && !others.length);
  part["kept-title"].textContent = `Kept here: ${kept}`;
  part["kept-why"].textContent = waiting.length ? WHY[state] : WHY.idle;
  part["others-words"].hidden = !others.length;
  part["others-words"].textContent =
    `${pieces(others.length)} of somebody else’s wait on this phone. They are sent only when that person signs in here again.`;
  part.needs.hidden = !needs.length;
  part["needs-list"].replaceChildren(...needs.map(row));
}

function row(entry) {
  const { node, part } = copyOf("unload-need");
  node.dataset.id = entry.id;
  part.mark.textContent = entry.mark;
  part.what.textContent = wordsOf(entry);
  part.why.textContent = entry.words;
  return node;
}

// The three buttons of a row. `look(place)` shows the piece.
export async function needsTap(button, look) {
  const { id } = button.closest("[data-id]").dataset;
  const entry = (await queue.entries()).find((one) => one.id === id);
  if (!entry) return;
  if (button.dataset.do === "again") {
    await queue.keep([{ ...entry, state: "waiting", words: "", why: "" }]);
    await soon();
  } else if (button.dataset.do === "look") {
    look(entry.place);
  } else if (button.dataset.sure) {
    await queue.take([entry]);
  } else {
    button.dataset.sure = "yes";
    button.textContent = "Really: it is given up";
  }
}
