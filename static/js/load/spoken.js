// What is said of the piece in hand, for eyes and ears alike.
import { midway, translate } from "../words.js";
import { nearest } from "./rules.js";

export function whereWords(load, piece, at) {
  const named = { across: Math.abs(at.x), along: Math.abs(at.y) };
  const across = !at.x ? "" : at.x > 0 ? translate("{across} mm right", named) : translate("{across} mm left", named);
  const along = !at.y ? "" : at.y > 0 ? translate("{along} mm behind", named) : translate("{along} mm in front", named);
  const place = [across, along].filter(Boolean).join(", ") || translate("in the middle");
  const next = nearest(load, piece, at);
  const gap = next ? translate("{gap} mm to {mark}.", { gap: Math.max(0, Math.floor(next.gap)), mark: next.mark }) : "";
  const layer = midway(load.layers.find((one) => one.number === at.layer).name);
  return [translate("{mark}, {layer}: {place}.", { mark: piece.mark, layer, place }), gap].filter(Boolean).join(" ");
}

export function describe(load, piece) {
  const { mark, name } = piece;
  const pinned = piece.pinned ? translate("It is pinned.") : "";
  const inHand = translate("{mark}, {name}, is in hand.", { mark, name });
  return [inHand, pinned, whereWords(load, piece, piece)].filter(Boolean).join(" ");
}
