// Unloading with one thumb and no signal: the whole load is in memory, so a tap never waits for anybody.
import * as clocks from "./clock.js";
import { deliver, keepDelivering, soon } from "./deliver.js";
import { watchOthers } from "./others.js";
import { needsTap, showKept } from "./panel.js";
import { useCamera } from "../scanner_camera.js";
import { tell as signal } from "../scanner_signs.js";
import { smallPhoto } from "./photo.js";
import * as queue from "./queue.js";
import * as rules from "./rules.js";
import * as screen from "./screen.js";
import * as store from "./store.js";
import { clock, translate, translateMany } from "../words.js";

// A thumb that bounces must not answer the next piece too.
const BOUNCE_MS = 300;
const MOST_PHOTOS = 4;
const REMEMBERED = 60;

export async function unload(main, load, { person, photos, at = null }) {
  const ui = screen.build(main);
  const { part } = ui;
  const finishingOnly = new Set(main.dataset.finishingOnly.split(" "));
  let answers = load.answers;
  let kept = await queue.entries();
  let shelf = (await store.fact("shelf")) ?? load.shelf;
  let mine = ((await store.fact("mine")) ?? []).filter((one) => one.unload === load.unload);
  let current = null;
  let shownAt = 0;
  let busy = false;
  let camera = null;

  const isHere = (entry) => entry.unload === load.unload && entry.person === person;
  const waitingHere = () => kept.filter((entry) => isHere(entry) && queue.isWaiting(entry));
  const standing = () => rules.standing(answers, waitingHere(), queue.applied);
  const draftsOf = (code) => kept.filter((entry) => isHere(entry) && entry.state === "draft" && entry.place === code);
  const markOf = (code) => load.places[code].mark;

  function say(words) {
    part.say.hidden = !words;
    part["say-words"].textContent = words;
  }

  function lastMine() {
    const now = standing();
    return mine.findLast((one) => now[one.place]?.client_id === one.id) ?? null;
  }

  // Everything but the piece itself: counts, map, what stands chosen, what is kept.
  function refresh() {
    const now = standing();
    screen.showCounts(ui, load, now, current);
    showKept(ui, kept, person);
    const last = lastMine();
    const undo = last ? `${markOf(last.place)}, ${screen.outcomeWords(last.outcome)}` : translate("nothing yet");
    for (const name of ["undo", "undo-out"]) {
      part[name].setAttribute("aria-disabled", String(!last));
      part[`${name}-words`].textContent = undo;
    }
    const taken = current ? draftsOf(current).length : 0;
    part["photo-words"].textContent = taken ? translateMany("{count} taken", "{count} taken", taken) : translate("none taken");
    part["shelf-words"].textContent = load.shelves.find((one) => one.code === shelf)?.name ?? translate("none chosen");
    main.dataset.left = rules.inOrder(load).filter((code) => !now[code]).length;
    if (main.dataset.open === "out") showOut();
  }

  function showOut() {
    const total = rules.inOrder(load).length;
    const left = kept.filter((entry) => entry.person === person && entry.state !== "draft").length;
    part["out-title"].textContent = translate("All {total} are out of {kiln}", { total, kiln: load.kiln });
    part["out-words"].textContent = left
      ? translateMany(
          "{count} is kept on this phone and sent by itself. Then count up.",
          "{count} are kept on this phone and sent by themselves. Then count up.",
          left,
        )
      : translate("Everything has been sent. Count up now.");
  }

  // Shows a piece, or the end when there is none left.
  function show(code) {
    current = code;
    shownAt = performance.now();
    part.hand.reset();
    if (!code) {
      screen.open(ui, "out");
      refresh();
      return;
    }
    screen.showPiece(ui, load, code, photos);
    const answer = standing()[code];
    if (answer) showAnswered(answer);
    else screen.open(ui, "");
    refresh();
  }

  function showAnswered(answer) {
    const isMine = mine.some((one) => one.id === answer.client_id);
    const named = {
      piece_mark: markOf(current),
      outcome: screen.outcomeWords(answer.outcome),
      by_first_name: answer.by,
      at: clock(answer.at),
    };
    part["answered-title"].textContent =
      answer.by && !isMine
        ? translate("{piece_mark} is answered: {outcome}, by {by_first_name} at {at}.", named)
        : translate("{piece_mark} is answered: {outcome} at {at}.", named);
    screen.open(ui, "answered");
  }

  // The studio is there, and everything is out and sent: on to the count, by itself.
  function heard() {
    const isDone = main.dataset.open === "out" && main.dataset.kept === "0" && main.dataset.left === "0";
    if (isDone) location.assign(load.urls.reconcile);
  }

  const next = () => show(rules.nextOpen(load, standing(), current));

  // Writes to the phone first. What can't be kept is said, and nothing moves on.
  async function keepOrSay(list) {
    try {
      await queue.keep(list);
      return true;
    } catch {
      say(translate("This phone has no room to keep anything more. Nothing was saved: free some room, then answer again."));
      return false;
    }
  }

  const entryFor = (code, more) => ({
    id: queue.newId(),
    state: "waiting",
    words: "",
    unload: load.unload,
    to: more.kind === "photo" ? load.urls.photo : load.urls.deliver,
    place: code,
    mark: markOf(code),
    person,
    at: new Date().toISOString(),
    offset_ms: clocks.offsetMs(),
    ...more,
  });

  async function answer(outcome, cause = "") {
    if (busy || performance.now() - shownAt < BOUNCE_MS) return;
    const form = new FormData(part.hand);
    const seen = {
      outcome,
      flaws: form.getAll("flaw"),
      jobs: outcome === "lost" ? [] : form.getAll("job"),
      loss_cause: cause,
      note: form.get(outcome === "lost" ? "loss_note" : "note") ?? "",
    };
    const asks = rules.asks(seen, finishingOnly);
    if (asks || (seen.jobs.includes("other") && !seen.note.trim())) {
      if (asks === "flawed" && seen.flaws.length) part["flawed-title"].textContent = translate("Is {mark} flawed?", { mark: markOf(current) });
      if (!asks) say(translate("Write in the note what is to be done to {mark}.", { mark: markOf(current) }));
      screen.open(ui, asks || "flawed");
      return;
    }
    const entry = entryFor(current, {
      kind: "answer",
      ...seen,
      surface: form.get("surface") ?? "",
      severity: Number(form.get("severity")) || 2,
      shelf: outcome === "lost" ? "" : shelf,
    });
    const pictures = draftsOf(current).map((draft) => ({ ...draft, state: "waiting" }));
    busy = true;
    const isKept = await keepOrSay([entry, ...pictures]);
    busy = false;
    if (!isKept) return;
    kept = [...kept.filter((one) => !pictures.some((picture) => picture.id === one.id)), entry, ...pictures];
    mine = [...mine, { unload: load.unload, place: current, id: entry.id, outcome }].slice(-REMEMBERED);
    store.note("mine", mine).catch(() => {});
    say("");
    next();
    soon();
  }

  async function undo(code, undoes, outcome) {
    if (busy) return;
    const entry = entryFor(code, { kind: "undo", undoes });
    busy = true;
    const isKept = await keepOrSay([entry]);
    busy = false;
    if (!isKept) return;
    kept = [...kept, entry];
    const named = { mark: markOf(code), outcome: screen.outcomeWords(outcome) };
    say(translate("{mark} is open again; it was {outcome}.", named));
    show(code);
    soon();
  }

  async function photographed() {
    const [file] = part.camera.files;
    part.camera.value = "";
    const code = current;
    if (!file) return;
    if (draftsOf(code).length >= MOST_PHOTOS) {
      say(translate("{count} photos of one piece are enough.", { count: MOST_PHOTOS }));
      return;
    }
    const { data, type } = await smallPhoto(file);
    const draft = entryFor(code, { kind: "photo", state: standing()[code] ? "waiting" : "draft", data, type });
    if (!(await keepOrSay([draft]))) return;
    kept = await queue.entries();
    refresh();
  }

  function choosePiece(text) {
    const found = rules.found(load, text);
    part["typed-words"].hidden = !found.words;
    part["typed-words"].textContent = found.words ?? "";
    if (found.shelf) chooseShelf(found.shelf.code);
    if (found.place) show(found.place);
    return found;
  }

  // A slip leads to its piece, a shelf's tag chooses the shelf; either way the camera has done its work.
  function scanned(text) {
    const { words = "", place, shelf: one } = choosePiece(text);
    if (!words) camera.stop();
    const mark = place ? markOf(place) : (one?.name ?? "");
    const sentence = words || (place ? translate("Its place is shown.") : translate("Chosen."));
    signal(words ? "unknown" : "taken", { mark, sentence });
  }

  function chooseShelf(code) {
    shelf = code;
    store.note("shelf", code).catch(() => {});
    screen.open(ui, current ? "" : "out");
    refresh();
  }

  const acts = {
    verdict: ({ value }) => answer(value),
    "lost-cause": ({ value }) => answer("lost", value),
    other: () => screen.open(ui, "flawed"),
    shut: () => show(current ?? rules.nextOpen(load, standing())),
    pieces() {
      screen.showPieces(ui, load, standing());
      screen.open(ui, "pieces");
      camera ??= useCamera(main.querySelector("[data-camera]"), scanned);
    },
    choose: ({ value }) => show(value),
    shelf() {
      screen.showShelves(ui, load, shelf);
      screen.open(ui, "shelf");
    },
    "choose-shelf": ({ value }) => chooseShelf(value),
    "go-on": () => next(),
    undo() {
      const last = lastMine();
      if (last) undo(last.place, last.id, last.outcome);
    },
    "undo-this"() {
      const given = standing()[current];
      if (given) undo(current, given.client_id, given.outcome);
    },
    "send-now": () => soon(),
    again: (button) => needsTap(button, show),
    look: (button) => needsTap(button, show),
    drop: (button) => needsTap(button, show),
  };

  main.addEventListener("click", (event) => {
    const button = event.target.closest("[data-do]");
    if (button && button.getAttribute("aria-disabled") !== "true") acts[button.dataset.do](button);
  });
  part["kept-button"].addEventListener("click", () => {
    if (main.dataset.open === "kept") acts.shut();
    else screen.open(ui, "kept");
    soon();
  });
  part.camera.addEventListener("change", photographed);
  part.hand.addEventListener("submit", (event) => event.preventDefault());
  part.typed.addEventListener("submit", (event) => {
    event.preventDefault();
    choosePiece(part.typed.elements.mark.value);
    part.typed.reset();
  });

  queue.onTold(async (message) => {
    if (message.what === "delivered") for (const entry of message.entries) if (isHere(entry)) queue.applied(answers, entry);
    kept = await queue.entries();
    refresh();
    if (message.what === "delivered") heard();
  });
  watchOthers(load, {
    told(fresh) {
      if (!fresh) {
        heard(); // nothing new, but the studio is there
        return;
      }
      const before = standing()[current];
      answers = fresh;
      const now = standing()[current];
      refresh();
      if (current && !before && now && main.dataset.open === "") showAnswered(now);
      heard();
    },
    changed: (words) => say(words),
  });

  part.back.href = load.urls.firing;
  for (const name of ["reconcile", "reconcile-out"]) part[name].href = load.urls.reconcile;
  // Photos of a piece that was answered elsewhere meanwhile go as they are.
  const strays = kept.filter((entry) => isHere(entry) && entry.state === "draft" && answers[entry.place]);
  if (strays.length) await keepOrSay(strays.map((draft) => ({ ...draft, state: "waiting" })));
  if (load.state === "cooling") {
    say(translate("By the books this kiln is still shut. What you answer is kept, and taken once it has been opened on the firing’s page."));
  }
  show(at && load.places[at] ? at : rules.nextOpen(load, standing()));
  main.dataset.ready = "yes";
  keepDelivering();
  return { show, choosePiece, deliver };
}
