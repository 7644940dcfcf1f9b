// Small helps on the intake page. Everything works without them.

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
  const found = /^\s*(\d{1,5}(?:[.,]\d{0,3})?|[.,]\d{1,3})\s*(cm|mm|m)?\s*$/i.exec(form.elements[name].value);
  if (!found) return null;
  const unit = { mm: 1, cm: 10, m: 1000 }[(found[2] || "cm").toLowerCase()];
  return Math.round(Number(found[1].replace(",", ".")) * unit);
}

function say() {
  const round = form.elements.footprint.value === "round";
  const width = millimetres("width");
  const depth = round ? width : millimetres("depth");
  const height = millimetres("height");
  words.hidden = !width || !depth || !height;
  if (words.hidden) return;
  const litres = (width * depth * height) / 1e6;
  words.value =
    `${round ? `${width} mm across` : `${width} × ${depth} mm`}, ${height} mm tall: ` +
    `a box of ${litres < 10 ? litres.toFixed(2) : Math.round(litres)} litres in the kiln.`;
}
say();
