// Puts a piece, its layer and its counts on the page. Words are set as text, never as markup.
import { cutMark, drawing, layerMap } from "./drawn.js";
import { inOrder } from "./rules.js";
import { later, midway, translate } from "../words.js";

const OUTCOMES = { sound: later("Sound"), flawed: later("Flawed"), lost: later("Lost") };

// An outcome for the middle of a sentence.
export const outcomeWords = (outcome) => (outcome in OUTCOMES ? midway(translate(OUTCOMES[outcome])) : outcome);

// The page's parts by name, filled in from its templates.
export function build(main) {
  main.replaceChildren(document.getElementById("unload-app").content.cloneNode(true));
  const part = {};
  for (const node of main.querySelectorAll("[data-part]")) part[node.dataset.part] = node;
  const drawer = {};
  for (const node of main.querySelectorAll("[data-drawer]")) drawer[node.dataset.drawer] = node;
  return { main, part, drawer };
}

export function copyOf(templateId) {
  const node = document.getElementById(templateId).content.firstElementChild.cloneNode(true);
  const part = {};
  for (const one of node.querySelectorAll("[data-part]")) part[one.dataset.part] = one;
  return { node, part };
}

// What each drawer leaves standing beside it.
const BESIDE = {
  "": ["piece", "hand", "usual", "trio", "verdict"],
  flawed: ["piece", "hand", "usual", "trio", "verdict"],
  lost: ["piece", "hand"],
  shelf: ["piece", "hand"],
  answered: ["piece"],
  pieces: [],
  kept: [],
  out: [],
};

export function open({ main, part, drawer }, name) {
  const beside = BESIDE[name];
  for (const each of ["piece", "hand", "usual", "trio", "verdict"]) part[each].hidden = !beside.includes(each);
  for (const [each, node] of Object.entries(drawer)) node.hidden = each !== name;
  part["kept-button"].setAttribute("aria-expanded", String(name === "kept"));
  main.dataset.open = name;
  const title = drawer[name]?.querySelector("h2[tabindex]");
  title?.focus({ preventScroll: true });
  if (name === "flawed") drawer.flawed.scrollIntoView({ block: "nearest" });
  else window.scrollTo(0, 0);
}

export function showPiece({ part }, load, code, photos) {
  const place = load.places[code];
  const address = place.photo;
  part.photo.hidden = !address;
  part.drawn.hidden = Boolean(address);
  if (address) {
    part.photo.src = photos.get(address) ?? address;
    part.photo.alt = translate("{form} before firing", { form: place.form });
    part.drawn.replaceChildren();
  } else {
    part.photo.removeAttribute("src");
    part.drawn.replaceChildren(...[drawing(place.drawn)].filter(Boolean));
  }
  part.caption.textContent = address
    ? translate("Before firing, {taken_at}", { taken_at: place.taken })
    : translate("Drawn: no photo was taken");
  part.cut.replaceChildren(cutMark(place.mark, load.signs));
  const whose = place.whose ?? "";
  part.heading.textContent = [place.mark, midway(place.form), whose].filter(Boolean).join(", ");
  part.whose.textContent = whose || place.form;
  part.words.textContent = `${whose ? `${place.form}, ` : ""}${place.size}.${place.glazes ? ` ${place.glazes}.` : ""}`;
  part.verdict.setAttribute("aria-label", translate("Outcome for {mark}", place));
  part["flawed-title"].textContent = translate("What is wrong with {mark}?", place);
  part["lost-title"].textContent = translate("What happened to {mark}?", place);
}

export function showCounts({ part }, load, answers, code) {
  const codes = inOrder(load);
  const out = codes.filter((each) => answers[each]).length;
  part.title.textContent = translate("Unload {firing}", { firing: load.words });
  part.count.textContent = translate("{kiln}, {answered} of {total} out", {
    kiln: load.kiln,
    answered: out,
    total: codes.length,
  });
  const here = load.layers.find((layer) => layer.places.includes(code));
  part.layers.replaceChildren(
    ...load.layers.map((layer) => {
      const done = layer.places.filter((each) => answers[each]).length;
      const { node, part: row } = copyOf("unload-layer");
      const name = layer.name.replace(" shelf", "");
      if (layer === here) node.setAttribute("aria-current", "step");
      row["layer-words"].textContent =
        layer === here
          ? translate("{row}, {answered} of {total}", { row: name, answered: done, total: layer.places.length })
          : `${name}, ${layer.places.length}`;
      const width = layer.places.length ? (100 * done) / layer.places.length : 100;
      node.querySelector(".bar__part")?.setAttribute("width", `${width}%`);
      return node;
    }),
  );
  if (!here) return;
  const gone = marksOf(load, here, (each) => answers[each] && each !== code);
  const map = layerMap(here, { pickedMark: load.places[code].mark, goneMarks: gone });
  part.map.replaceChildren(...[map].filter(Boolean));
  part.map.setAttribute("aria-label", translate("Map of the {layer}. Choose another piece.", { layer: midway(here.name) }));
}

function marksOf(load, layer, which) {
  return new Set(layer.places.filter(which).map((each) => load.places[each].mark));
}

// The list to choose another piece from, a row each, layer by layer.
export function showPieces({ part }, load, answers) {
  part["pieces-list"].replaceChildren(
    ...load.layers.filter((layer) => layer.places.length).flatMap((layer) => {
      const title = document.createElement("h3");
      title.textContent = layer.name;
      const map = layerMap(layer, { pickedMark: "", goneMarks: marksOf(load, layer, (each) => answers[each]) });
      const rows = layer.places.map((code) => {
        const { node, part: row } = copyOf("unload-row");
        const { mark, form, size } = load.places[code];
        const outcome = answers[code]?.outcome ?? "";
        node.value = code;
        row.mark.textContent = mark;
        row.what.textContent = `${form}, ${size}`;
        row.sign.textContent = outcome && outcomeWords(outcome);
        if (outcome) row.sign.classList.add(`sign--${outcome}`);
        return node;
      });
      return [title, ...[map].filter(Boolean), ...rows];
    }),
  );
}

export function showShelves({ part }, load, chosen) {
  part.shelves.replaceChildren(
    ...[...load.shelves, { code: "", name: translate("No shelf"), where: "" }].map(({ code, name, where }) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "choice-btn";
      button.dataset.do = "choose-shelf";
      button.value = code;
      button.textContent = name;
      if (code === chosen) button.setAttribute("aria-pressed", "true");
      if (where) {
        const small = document.createElement("small");
        small.textContent = where;
        button.append(small);
      }
      return button;
    }),
  );
}
