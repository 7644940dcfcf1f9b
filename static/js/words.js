// Sentences in the language of the page. English stands where it is said; the page brings what another language
// says instead (`{% script %}` in templates), and where it brings nothing, English it is.
//
//   translate("{mark} is pinned. Unpin it first.", { mark })
//   translateMany("{count} answer", "{count} answers", 3)
//   const TABLE = { idle: later("It waits.") };  translate(TABLE.idle)
//
// Sentences are whole, in one plain string each: `manage.py collect_words` finds them by these three names.

const known = Object.assign(
  {},
  ...[...document.querySelectorAll("script[data-words]")].map((block) => JSON.parse(block.textContent)),
);
const language = document.documentElement.lang || "en-GB";

const filled = (sentence, named) => sentence.replace(/\{(\w+)\}/g, (whole, name) => named[name] ?? whole);

export function translate(sentence, named = {}) {
  const said = known[sentence];
  return filled(typeof said === "string" ? said : sentence, named);
}

// The form for this many, which is named `count`. Our catalogues know one and many (`management/words`).
export function translateMany(one, many, count, named = {}) {
  const forms = Array.isArray(known[one]) ? known[one] : [one, many];
  return filled(count === 1 ? forms[0] : forms[1], { count: figure(count), ...named });
}

// Words of a table, translated where they are shown.
export const later = (words) => words;

// 9.5 with one place behind its sign, which is a comma in some languages.
export const figure = (value, places = 0) =>
  value.toLocaleString(language, { minimumFractionDigits: places, maximumFractionDigits: places, useGrouping: false });

// 11:20, of a moment or its ISO text.
export const clock = (moment) =>
  new Date(moment).toLocaleTimeString(language, { hour: "2-digit", minute: "2-digit" });

// For the middle of a sentence: in small letters, unless the language writes nouns with capitals.
export const midway = (words) => (translate("small letters") === "capitals" ? words : words.toLocaleLowerCase(language));
