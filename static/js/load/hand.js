// The piece in hand, drawn where it would stand as a second picture of it, on its own layer or another one.
// Nothing here decides; positions are attributes, as everywhere in our drawings.

const NAMESPACE = "http://www.w3.org/2000/svg";

export class Drawings {
  constructor(board, load) {
    this.board = board;
    this.load = load;
    this.ghost = null;
  }

  layerSvg(number) {
    return this.board.querySelector(`.layer[data-layer="${number}"] > svg`);
  }

  link(code) {
    return this.links().find((link) => codeOf(link) === code) ?? null;
  }

  links() {
    return [...this.board.querySelectorAll(".layer a.l-link")];
  }

  // Where a point of the screen lies: the layer whose drawing is under it, and x and y there in mm.
  place(clientX, clientY) {
    const svg = document.elementFromPoint(clientX, clientY)?.closest(".layer[data-layer] > svg");
    if (!svg || !this.board.contains(svg)) return null;
    const number = Number(svg.parentElement.dataset.layer);
    return { layer: number, ...this.pointOn(number, clientX, clientY) };
  }

  pointOn(number, clientX, clientY) {
    const matrix = this.layerSvg(number).getScreenCTM().inverse();
    const point = new DOMPoint(clientX, clientY).matrixTransform(matrix);
    return { x: point.x / this.load.unit, y: -point.y / this.load.unit };
  }

  // Draw a piece at a place, over everything else, and leave a faint one where it comes from. `bad` marks it
  // as one that may not stand there.
  show(piece, at, bad) {
    const link = this.link(piece.code);
    if (!link) return;
    link.classList.add("l-away");
    this.dropGhost();
    const moved = link.querySelector("g").cloneNode(true);
    const unit = this.load.unit;
    const middle = `${piece.x * unit} ${-piece.y * unit}`;
    const turn = at.turned !== piece.turned ? ` rotate(90 ${middle})` : "";
    moved.setAttribute("transform", `translate(${(at.x - piece.x) * unit} ${(piece.y - at.y) * unit})${turn}`);
    moved.classList.toggle("l-bad", bad);
    moved.classList.add("l-pick");
    this.ghost = document.createElementNS(NAMESPACE, "g");
    this.ghost.setAttribute("class", "l-ghost");
    this.ghost.setAttribute("aria-hidden", "true");
    this.ghost.append(moved);
    this.layerSvg(at.layer).append(this.ghost);
  }

  // Everything stands again as the studio has it.
  clear(code) {
    this.dropGhost();
    this.link(code)?.classList.remove("l-away");
  }

  dropGhost() {
    this.ghost?.remove();
    this.ghost = null;
  }

  pick(code) {
    for (const link of this.links()) link.querySelector("g").classList.toggle("l-pick", codeOf(link) === code);
  }
}

export function codeOf(link) {
  return new URL(link.href.baseVal ?? link.href, location.href).searchParams.get("piece");
}
