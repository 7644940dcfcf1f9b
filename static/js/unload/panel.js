// "Kept here": how much waits on this phone, why, and what needs a person.
import { lastStatus, soon } from "./deliver.js";
import * as queue from "./queue.js";
import { copyOf, outcomeWords } from "./screen.js";
import { clock, later, translate, translateMany } from "../words.js";

const STATE = {
  idle: later("Signal"),
  sending: later("Sending"),
  offline: later("No signal"),
  "sign-in": later("Sign in"),
  "not-ours": later("No studio"),
  fault: later("Not taken"),
  others: later("Signal"),
};

const WHY = {
  idle: later("What you do is kept on this phone first and sent by itself."),
  sending: later("It is being sent."),
  offline: later("There is no signal. Go on: all is kept on this phone with its own time, and sent by itself when there is one."),
  "sign-in": later("The studio asks who you are. Sign in again as before and it is sent; until then it is kept here."),
  "not-ours": later("Something else answers in the studio’s place, perhaps this Wi-Fi’s own page. It is tried again by itself."),
  fault: later("The studio’s computer does not take it just now. It is tried again by itself."),
  others: later("Somebody else is signed in on this phone."),
};

// What was done, in words: "K7H sound, 11:20".
export function wordsOf(entry) {
  const act = { photo: translate("photo"), undo: translate("undo") }[entry.kind] ?? outcomeWords(entry.outcome);
  return `${act}, ${clock(entry.at)}`;
}

export const othersWords = (count) =>
  translateMany(
    "{count} answer of somebody else’s wait on this phone. They are sent only when that person signs in here again.",
    "{count} answers of somebody else’s wait on this phone. They are sent only when that person signs in here again.",
    count,
  );

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
  const kept = waiting.length
    ? translateMany("Kept here: {count} waiting", "Kept here: {count} waiting", waiting.length)
    : translate("Kept here: nothing");
  part["kept-words"].replaceChildren(
    needs.length
      ? translateMany("{count} needs you", "{count} need you", needs.length)
      : translate(STATE[waiting.length ? state : "idle"]),
    document.createElement("br"),
    kept,
  );
  part["kept-button"].classList.toggle("sync--calm", !needs.length && !waiting.length && !others.length);
  part["kept-title"].textContent = kept;
  part["kept-why"].textContent = translate(WHY[waiting.length ? state : "idle"]);
  part["others-words"].hidden = !others.length;
  part["others-words"].textContent = othersWords(others.length);
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
    button.textContent = translate("Really: it is given up");
  }
}
