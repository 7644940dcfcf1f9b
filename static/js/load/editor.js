// Planning a load with hand or keyboard. The page works without this as forms; here a piece is dragged, or
// moved with the arrow keys, and what speaks against its place is said while it moves. What is let go of in a
// place that may be is sent to the studio, whose answer renews the drawings; what may not be goes back.

import { Drawings, codeOf } from "./hand.js";
import { reasons } from "./rules.js";
import { Studio } from "./studio.js";
import { describe, whereWords } from "./spoken.js";
import { translate } from "../words.js";

const STEP = 5;
const FINE = 1;
// After the last key press a piece that stands legally is kept where it is.
const SETTLES_AFTER = 700;
const DRAG_BEGINS = 4;

const live = document.getElementById("hand");
const studio = new Studio();
let board, load, drawings;
// The piece in hand: {code, at: {layer, x, y, turned}, movedSince}; null when none is.
let hand = null;
let drag = null;
let swapping = null;
let settle = 0;

function read() {
  board = document.getElementById("board");
  load = JSON.parse(document.getElementById("load-state").textContent);
  drawings = new Drawings(board, load);
  for (const link of drawings.links()) link.setAttribute("aria-describedby", "hand-keys");
  for (const words of board.querySelectorAll("[data-with-script]")) words.hidden = false;
}

const pieceOf = (code) => load.pieces.find((piece) => piece.code === code);
const layerOf = (number) => load.layers.find((layer) => layer.number === number);
const chosenCode = () => new URLSearchParams(location.search).get("piece");

function say(words, bad = false) {
  live.hidden = false;
  live.classList.toggle("hand--bad", bad);
  if (live.textContent !== words) live.textContent = words;
}

// Take a piece in hand, as it stands.
function take(code) {
  const piece = pieceOf(code);
  if (!piece) return null;
  if (piece.pinned) {
    say(translate("{mark} is pinned. Unpin it first.", { mark: piece.mark }), true);
    return null;
  }
  if (hand?.code !== code) {
    putBack();
    hand = { code, at: { layer: piece.layer, x: piece.x, y: piece.y, turned: piece.turned } };
    drawings.pick(code);
  }
  return piece;
}

function moveTo(at) {
  const piece = pieceOf(hand.code);
  hand.at = at;
  const against = reasons(load, piece, at);
  drawings.show(piece, at, against.length > 0);
  if (against.length) say(against.map((reason) => reason.words).join(" "), true);
  else say(whereWords(load, piece, at));
  return against;
}

const hasMoved = (piece, at) =>
  at.layer !== piece.layer || at.x !== piece.x || at.y !== piece.y || at.turned !== piece.turned;

// Let go: keep the place, or go back with the reason.
async function letGo() {
  clearTimeout(settle);
  if (!hand) return;
  const { code, at } = hand;
  const piece = pieceOf(code);
  const against = reasons(load, piece, at);
  if (against.length) {
    putBack();
    const back = translate("{mark} is back where it was.", { mark: piece.mark });
    say([back, ...against.map((reason) => reason.words)].join(" "), true);
    return;
  }
  if (!hasMoved(piece, at)) {
    putBack();
    return;
  }
  const words = { layer: at.layer, x_mm: at.x, y_mm: at.y, whole: "1", seen: piece.seen };
  if (at.turned) words.turned = "1";
  await send(code, "move/", words);
}

function putBack() {
  clearTimeout(settle);
  if (hand) drawings.clear(hand.code);
  hand = null;
}

// Send a change of one piece; the answer shows the load as it then is, kept or not.
async function send(code, what, words) {
  if (studio.busy) return;
  const mine = hand;
  const answer = await studio.post(`/firings/${load.firing}/load/${code}/${what}`, words);
  takeOver(answer, mine);
}

function takeOver(answer, mine) {
  if (!answer.parts) {
    putBack();
    say(answer.problems.join(" "), true);
    return;
  }
  const held = document.activeElement?.closest?.("a.l-link");
  const focused = held ? codeOf(held) : null;
  // What is renewed loses the focus, which is no letting go.
  const goesOn = hand && hand === mine && mine.movedSince ? mine : null;
  hand = null;
  studio.renew(answer.parts);
  read();
  // Moved on while the answer was on its way: what is in hand goes on from the new state.
  if (goesOn && pieceOf(goesOn.code) && !answer.problems.length) {
    hand = { code: goesOn.code, at: goesOn.at };
    moveTo(goesOn.at);
    settleSoon();
    drawings.link(goesOn.code)?.focus({ preventScroll: true });
    return;
  }
  if (focused) drawings.link(focused)?.focus({ preventScroll: true });
  const unchanged = answer.problems.length && !answer.said ? translate("Nothing was changed.") : "";
  say([answer.said, unchanged, ...answer.problems].filter(Boolean).join(" "), answer.problems.length > 0);
}

async function choose(code) {
  if (swapping && swapping !== code) {
    const one = swapping;
    stopSwapping();
    await send(one, "swap/", { other: code, seen: pieceOf(one).seen });
    return;
  }
  const url = new URL(location.href);
  if (code) url.searchParams.set("piece", code);
  else url.searchParams.delete("piece");
  url.hash = "";
  history.replaceState(null, "", url);
  drawings.pick(code);
  const answer = await studio.get(code);
  if (drag?.moving) return;
  takeOver({ ...answer, said: code && pieceOf(code) ? describe(load, pieceOf(code)) : "" }, hand);
}

function stopSwapping() {
  swapping = null;
  board.classList.remove("is-swapping");
}

// Pointer: a mouse drags any piece, a finger the one that is chosen, so that the page still scrolls.

function pointerDown(event) {
  const link = event.target.closest?.("a.l-link");
  if (!link || event.button !== 0 || !board.contains(link)) return;
  const code = codeOf(link);
  const piece = pieceOf(code);
  if (!piece || swapping) return;
  if (event.pointerType === "touch" && chosenCode() !== code) return;
  const point = drawings.pointOn(piece.layer, event.clientX, event.clientY);
  drag = {
    code,
    id: event.pointerId,
    from: [event.clientX, event.clientY],
    hold: { x: point.x - piece.x, y: point.y - piece.y },
    moving: false,
  };
}

function pointerMove(event) {
  if (!drag || event.pointerId !== drag.id) return;
  if (!drag.moving) {
    if (Math.hypot(event.clientX - drag.from[0], event.clientY - drag.from[1]) < DRAG_BEGINS) return;
    drag.moving = true;
    drag.stuck = !take(drag.code);
    board.classList.toggle("is-dragging", !drag.stuck);
  }
  if (drag.stuck) return;
  event.preventDefault();
  const { layer } = hand.at;
  const [x, y] = [event.clientX, event.clientY];
  const point = drawings.place(x, y) ?? { layer, ...drawings.pointOn(layer, x, y) };
  moveTo({
    layer: point.layer,
    x: Math.round(point.x - drag.hold.x),
    y: Math.round(point.y - drag.hold.y),
    turned: hand.at.turned,
  });
}

function pointerUp(event) {
  if (!drag || event.pointerId !== drag.id) return;
  const { moving, stuck } = drag;
  board.classList.remove("is-dragging");
  drag.over = moving;
  const done = drag;
  // The click that follows a drag chooses nothing.
  setTimeout(() => {
    if (drag === done) drag = null;
  }, 0);
  if (event.type === "pointercancel") putBack();
  else if (moving && !stuck) letGo();
}

function click(event) {
  const link = event.target.closest?.("a.l-link, a[data-choose], a[data-let-go]");
  if (!link || event.metaKey || event.ctrlKey || event.shiftKey) return;
  event.preventDefault();
  if (drag?.over) return;
  putBack();
  if (link.matches("[data-let-go]")) {
    const code = chosenCode();
    choose("").then(() => drawings.link(code)?.focus({ preventScroll: true }));
  } else choose(link.dataset?.choose ?? codeOf(link));
}

// Keys on a piece

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

function settleSoon() {
  clearTimeout(settle);
  settle = setTimeout(() => {
    if (hand && !reasons(load, pieceOf(hand.code), hand.at).length) letGo();
  }, SETTLES_AFTER);
}

function changeInHand(code, change) {
  if (!take(code)) return;
  hand.movedSince = studio.busy;
  moveTo({ ...hand.at, ...change(hand.at) });
  if (!studio.busy) settleSoon();
}

function keyDown(event) {
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !typing(event.target)) {
    event.preventDefault();
    putBack();
    board.querySelector("form[data-undo]")?.requestSubmit();
    return;
  }
  const link = event.target.closest?.("a.l-link");
  if (!link || event.ctrlKey || event.metaKey || event.altKey) return;
  const code = codeOf(link);
  const piece = pieceOf(code);
  if (!piece) return;
  const arrow = ARROWS[event.key];
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (arrow) {
    const step = event.shiftKey ? FINE : STEP;
    changeInHand(code, (at) => ({ x: at.x + arrow[0] * step, y: at.y + arrow[1] * step }));
  } else if (key === "r") {
    if (piece.round) say(translate("{mark} is round: turned, it stands the same.", { mark: piece.mark }));
    else changeInHand(code, (at) => ({ turned: !at.turned }));
  } else if (key === "PageUp" || key === "PageDown") otherLayer(code, key === "PageUp" ? 1 : -1);
  else if (key === "p") send(code, "pin/", piece.pinned ? {} : { pinned: "1" });
  else if (key === "Delete" || key === "Backspace") takeOut(code);
  else if (key === "s") {
    swapping = code;
    board.classList.add("is-swapping");
    say(translate("Choose the piece that {mark} changes places with. Escape lets it be.", { mark: piece.mark }));
  } else if (key === "Enter" && hand?.code === code && hasMoved(piece, hand.at)) letGo();
  else if (key === "Escape" && (hand || swapping)) {
    stopSwapping();
    putBack();
    say(translate("{mark} stands where it was.", { mark: piece.mark }));
  } else return;
  event.preventDefault();
}

const typing = (target) => target.matches?.("input, textarea, select");

function otherLayer(code, up) {
  const piece = take(code);
  if (!piece) return;
  const layer = hand.at.layer + up;
  if (!layerOf(layer)) {
    say(up > 0 ? translate("There is no shelf above that one.") : translate("There is no shelf below that one."), true);
    return;
  }
  const at = { ...hand.at, layer };
  if (reasons(load, piece, at).length === 0) {
    moveTo(at);
    settleSoon();
    return;
  }
  // There the same place is taken: the studio looks for a free one.
  hand.at = at;
  send(code, "move/", { layer, seen: piece.seen });
}

function takeOut(code) {
  const piece = take(code);
  if (!piece) return;
  const links = drawings.links();
  const at = links.findIndex((link) => codeOf(link) === code);
  const next = links[at + 1] ?? links[at - 1];
  const nextCode = next ? codeOf(next) : null;
  putBack();
  send(code, "out/", { seen: piece.seen }).then(() => {
    if (nextCode) drawings.link(nextCode)?.focus({ preventScroll: true });
  });
}

// Leaving a piece that has been moved to a place where it may not stand puts it back.
function focusOut(event) {
  const link = event.target.closest?.("a.l-link");
  if (!link || drag?.moving || studio.busy || !hand || hand.code !== codeOf(link)) return;
  letGo();
}

async function submit(event) {
  const form = event.target.closest("form[data-load-form]");
  if (!form || event.defaultPrevented) return;
  event.preventDefault();
  if (studio.busy) return;
  putBack();
  const answer = await studio.send(form, event.submitter);
  takeOver(answer, null);
  if (answer.problems.length) document.querySelector("#board .note--stop, #waiting .note--stop")?.focus();
}

if (live) {
  read();
  document.addEventListener("pointerdown", pointerDown);
  window.addEventListener("pointermove", pointerMove);
  window.addEventListener("pointerup", pointerUp);
  window.addEventListener("pointercancel", pointerUp);
  document.addEventListener("click", click);
  document.addEventListener("keydown", keyDown);
  document.addEventListener("focusout", focusOut);
  document.addEventListener("submit", submit);
  document.addEventListener("dragstart", (event) => {
    if (event.target.closest?.("a.l-link")) event.preventDefault();
  });
  // A finger on the chosen piece moves the piece, not the page.
  document.addEventListener(
    "touchmove",
    (event) => {
      if (drag && event.cancelable) event.preventDefault();
    },
    { passive: false },
  );
}
