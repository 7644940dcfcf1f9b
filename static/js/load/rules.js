// Why a piece may not stand somewhere, reckoned while it is moved. The studio judges again, by its own
// arithmetic, before anything is kept: see studio/domain/loading_check.py, whose sentences these are.
// Lengths are millimetres; x runs to the right and y to the back from the middle of the kiln shelf.
import { figure, translate } from "../words.js";

const SLACK = 1e-3;

const oneDecimal = (mm) => translate("{max} mm", { max: figure(Math.max(0, mm), 1) });
// A limit, with no more places than it has.
const limit = (mm) => figure(mm, Number.isInteger(mm) ? 0 : 1);

// How far a point lies inside an outline's edge; negative outside.
export function depth(outline, x, y) {
  if (outline.round) return outline.w / 2 - Math.hypot(x, y);
  const across = outline.w / 2 - Math.abs(x);
  const along = outline.d / 2 - Math.abs(y);
  if (across >= 0 && along >= 0) return Math.min(across, along);
  return -Math.hypot(Math.min(across, 0), Math.min(along, 0));
}

// A piece at a place as corners grown by a radius: one point for round ware.
export function footprint(piece, at) {
  if (piece.round) return { corners: [[at.x, at.y]], radius: piece.w / 2 };
  const [w, d] = at.turned ? [piece.d / 2, piece.w / 2] : [piece.w / 2, piece.d / 2];
  const box = [
    [at.x - w, at.y - d],
    [at.x + w, at.y - d],
    [at.x + w, at.y + d],
    [at.x - w, at.y + d],
  ];
  return { corners: box, radius: 0 };
}

function box(corners) {
  const xs = corners.map(([x]) => x);
  const ys = corners.map(([, y]) => y);
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

// Distance between two sets of corners (points or upright boxes); where they cross, minus the least overlap.
export function gapBetween(one, other) {
  const [aLeft, aFront, aRight, aBack] = box(one);
  const [bLeft, bFront, bRight, bBack] = box(other);
  const across = Math.max(bLeft - aRight, aLeft - bRight);
  const along = Math.max(bFront - aBack, aFront - bBack);
  if (across > 0 || along > 0) return Math.hypot(Math.max(across, 0), Math.max(along, 0));
  return Math.max(across, along);
}

const apart = (one, other) => gapBetween(one.corners, other.corners) - one.radius - other.radius;

function wallReasons(load, layer, print) {
  const found = [];
  if (print.corners.some(([x, y]) => depth(layer.shelf, x, y) < print.radius - SLACK)) {
    found.push(["off-shelf", translate("hangs over the edge of its shelf. Move it in.")]);
  }
  const room = Math.min(...print.corners.map(([x, y]) => depth(load.chamber, x, y))) - print.radius;
  if (room < load.clear.wall - SLACK) {
    const named = { in_mm: oneDecimal(room), wall: limit(load.clear.wall) };
    found.push(["wall", translate("is {in_mm} from the wall and needs {wall} mm. Move it in.", named)]);
  }
  return found;
}

function zoneReasons(load, layer, print, high) {
  return load.zones
    .filter((zone) => layer.base < (zone.to ?? Infinity) && high > zone.from)
    .filter((zone) => gapBetween(print.corners, [[zone.x, zone.y]]) - print.radius < zone.r - SLACK)
    .map((zone) => [
      "thermocouple",
      translate("is nearer than {radius_mm} mm to the thermocouple. Move it away.", { radius_mm: limit(zone.r) }),
    ]);
}

function heightReasons(load, layer, high) {
  const free = layer.limit - high;
  const [need, what] = layer.carries ? [load.clear.above, translate("the shelf above")] : [load.clear.lid, translate("the lid")];
  if (free >= need - SLACK) return [];
  const advice = translate("Use longer props or another layer.");
  const named = { in_mm: oneDecimal(free), what, clearance: limit(need), advice };
  const words = translate("leaves {in_mm} under {what} and needs {clearance} mm. {advice}", named);
  return [["too-tall", words]];
}

function propReasons(load, layer, print) {
  const near = layer.props.some(
    (prop) => gapBetween(print.corners, [prop]) - print.radius - load.chamber.prop / 2 < load.clear.ware - SLACK,
  );
  return near ? [["prop", translate("stands where a prop goes, or too near it. Move it away from the prop.")]] : [];
}

function neighbourReasons(load, piece, at, print) {
  const found = [];
  for (const other of load.pieces) {
    if (other.code === piece.code || other.layer !== at.layer) continue;
    const gap = apart(print, footprint(other, other));
    if (gap >= load.clear.ware - SLACK) continue;
    const [a, b] = [piece.mark, other.mark].sort();
    const words =
      gap < -SLACK
        ? translate("Pieces {a} and {b} stand in the same place. Move one of them.", { a, b })
        : translate("Pieces {a} and {b} stand {in_mm} apart and need {need} mm. Move one of them.", {
            a,
            b,
            in_mm: oneDecimal(gap),
            need: limit(load.clear.ware),
          });
    found.push({ code: "overlap", words, other: other.code });
  }
  return found;
}

// Everything that speaks against a piece of this load at a place: [{code, words}], empty when nothing does.
export function reasons(load, piece, at) {
  const layer = load.layers.find((each) => each.number === at.layer);
  const print = footprint(piece, at);
  const high = layer.base + piece.h;
  const own = [
    ...wallReasons(load, layer, print),
    ...zoneReasons(load, layer, print, high),
    ...heightReasons(load, layer, high),
    ...propReasons(load, layer, print),
  ].map(([code, rest]) => ({ code, words: translate("Piece {key} {rest}", { key: piece.mark, rest }) }));
  return [...own, ...neighbourReasons(load, piece, at, print)];
}

// The nearest other piece on the same layer and how far away it is, or null on an empty one.
export function nearest(load, piece, at) {
  const print = footprint(piece, at);
  let found = null;
  for (const other of load.pieces) {
    if (other.code === piece.code || other.layer !== at.layer) continue;
    const gap = apart(print, footprint(other, other));
    if (!found || gap < found.gap) found = { mark: other.mark, gap };
  }
  return found;
}
