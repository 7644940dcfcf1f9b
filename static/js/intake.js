// Small helps on the intake page. Everything works without them.
import { figure, translate } from "./words.js";

const form = document.querySelector(".intake");

function check(name, value) {
  const radio = [...form.elements[name]].find((one) => one.value === value);
  if (radio) radio.checked = true;
}

// What this maker used last is chosen for them, unless a hand has chosen already.
const chosenByHand = new Set();
form.addEventListener("change", (event) => {
  const { name, dataset, value } = event.target;
  if (name === "technique" || name === "clay" || name === "footprint") chosenByHand.add(name);
  if (name === "maker") {
    if (dataset.technique && !chosenByHand.has("technique")) check("technique", dataset.technique);
    if (dataset.clay && !chosenByHand.has("clay")) check("clay", dataset.clay);
  }
  if (name === "form" && !chosenByHand.has("footprint")) {
    check("footprint", value === "tile" || value === "box" ? "other" : "round");
  }
  say();
});
form.addEventListener("input", say);

// Says the typed sizes in the millimetres they are kept in, so that a slip of the finger is seen.
const words = form.querySelector("[data-sizes-say]");

function millimetres(name) {
  const typed = form.elements[name].value;
  const part = /^\s*(?:(\d{1,4})[\s-]+)?(\d{1,2})\/([1-9]\d?)\s*(cm|mm|m|in|")?\s*$/i.exec(typed);
  const whole = /^\s*(\d{1,5}(?:[.,]\d{0,3})?|[.,]\d{1,3})\s*(cm|mm|m|in|")?\s*$/i.exec(typed);
  if (!part && !whole) return null;
  const number = part ? Number(part[1] ?? 0) + part[2] / part[3] : Number(whole[1].replace(",", "."));
  const unit = (part ? part[4] : whole[2]) || words.dataset.bare;
  return Math.round(number * { mm: 1, cm: 10, m: 1000, in: 25.4, '"': 25.4 }[unit.toLowerCase()]);
}

function say() {
  const round = form.elements.footprint.value === "round";
  const width = millimetres("width");
  const depth = round ? width : millimetres("depth");
  const height = millimetres("height");
  words.hidden = !width || !depth || !height;
  if (words.hidden) return;
  const litres = (width * depth * height) / 1e6;
  const named = { width, depth, height, litres: figure(litres, litres < 10 ? 2 : 0) };
  words.value = round
    ? translate("{width} mm across, {height} mm tall: a box of {litres} litres in the kiln.", named)
    : translate("{width} × {depth} mm, {height} mm tall: a box of {litres} litres in the kiln.", named);
}
say();
