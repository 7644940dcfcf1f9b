// Drawings of the unload page, from what the studio sent: the cut mark, the map of a layer, a pot.
import { translate } from "../words.js";

const SVG = "http://www.w3.org/2000/svg";
const STEP = 90;
const WIDTH = 60;

function made(name, attributes, ...inside) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...inside);
  return node;
}

// The mark as cut into clay: the strokes of each sign over one foot line.
export function cutMark(mark, signs) {
  const width = Math.max(STEP * mark.length - (STEP - WIDTH), WIDTH);
  const foot = () => made("path", { d: `M0 128Q${width / 2} 136 ${width} 128` });
  const head = { class: "cut", viewBox: `-8 -8 ${width + 16} 148`, role: "img", "aria-label": translate("Mark {mark}", { mark: [...mark].join(" ") }) };
  if (![...mark].every((sign) => signs[sign])) {
    const text = made("text", { class: "cut__text", x: width / 2, y: 100, "font-size": 112, "text-anchor": "middle" }, mark);
    return made("svg", head, text, made("g", { class: "cut__line" }, foot()));
  }
  const strokes = () =>
    [...mark].map((sign, index) => made("path", { d: signs[sign], transform: `translate(${index * STEP} 0)` }));
  return made(
    "svg",
    head,
    made("g", { class: "cut__lip", transform: "translate(3 4)" }, ...strokes(), foot()),
    made("g", { class: "cut__line" }, ...strokes(), foot()),
  );
}

// A drawing that came as text; null when it is none.
export function drawing(text) {
  const named = (text ?? "").replace("<svg ", `<svg xmlns="${SVG}" `);
  const root = named ? new DOMParser().parseFromString(named, "image/svg+xml").documentElement : null;
  return root?.localName === "svg" ? document.importNode(root, true) : null;
}

// The map of a layer with one piece picked and those that are out dotted. All pieces are drawn with marks.
export function layerMap(layer, { pickedMark, goneMarks }) {
  const map = drawing(layer.map);
  if (!map) return null;
  map.setAttribute("aria-hidden", "true");
  map.removeAttribute("role");
  map.removeAttribute("aria-label");
  let picked = null;
  for (const label of [...map.querySelectorAll(".l-mark")]) {
    const group = label.parentNode;
    const mark = label.textContent;
    group.setAttribute("class", goneMarks.has(mark) ? "l-gone" : "");
    if (mark === pickedMark) picked = group;
    else label.remove();
  }
  if (picked) {
    picked.setAttribute("class", "l-pick");
    map.append(picked);
  }
  return map;
}
