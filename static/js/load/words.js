// What is said of the piece in hand, for eyes and ears alike.

import { nearest } from "./rules.js";

export function whereWords(load, piece, at) {
  const across = at.x ? `${Math.abs(at.x)} mm ${at.x > 0 ? "right" : "left"}` : "";
  const along = at.y ? `${Math.abs(at.y)} mm ${at.y > 0 ? "behind" : "in front"}` : "";
  const place = [across, along].filter(Boolean).join(", ") || "in the middle";
  const next = nearest(load, piece, at);
  const gap = next ? ` ${Math.max(0, Math.floor(next.gap))} mm to ${next.mark}.` : "";
  return `${piece.mark}, ${load.layers.find((layer) => layer.number === at.layer).name.toLowerCase()}: ${place}.${gap}`;
}

export function describe(load, piece) {
  return `${piece.mark}, ${piece.name}, is in hand.${piece.pinned ? " It is pinned." : ""} ${whereWords(load, piece, piece)}`;
}
