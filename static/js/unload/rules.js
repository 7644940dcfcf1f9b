// The rules of the page, without the page: they are asked again by the studio when an entry arrives.
import { translate } from "../words.js";

// Which question is still open before this verdict can be kept: "lost", "flawed" or none.
export function asks({ outcome, flaws, loss_cause: cause, note }, finishingOnly) {
  if (outcome === "lost" && !cause) return "lost";
  if (outcome === "flawed" && !flaws.length && !note.trim()) return "flawed";
  if (outcome === "sound" && !flaws.every((flaw) => finishingOnly.has(flaw))) return "flawed";
  return "";
}

// The answers that stand for whoever looks at this phone: the studio's, then what waits here, in order.
export function standing(answers, waiting, applied) {
  const result = { ...answers };
  for (const entry of waiting) applied(result, entry);
  return result;
}

// The codes of all pieces in the order they are taken out.
export const inOrder = (load) => load.layers.flatMap((layer) => layer.places);

// The next one without an answer after this, going round to what was passed over; null when all are out.
export function nextOpen(load, answers, after = null) {
  const codes = inOrder(load);
  const start = codes.indexOf(after) + 1;
  return [...codes.slice(start), ...codes.slice(0, start)].find((code) => !answers[code]) ?? null;
}

// A piece of this load by what was typed or scanned: a mark, or the address on a slip. Shelves by theirs.
export function found(load, text) {
  const said = text.trim().toUpperCase();
  const code = /\/Q\/([A-Z0-9]{1,12})\/?$/.exec(said)?.[1] ?? "";
  if (code) {
    const place = inOrder(load).find((one) => load.places[one].tag === code);
    if (place) return { place };
    const shelf = load.shelves.find((one) => one.tag === code);
    return shelf ? { shelf } : { words: translate("That code is not of this load, and of no shelf in use. Nothing was changed.") };
  }
  const mark = said.replace(/\s+/g, "");
  const place = inOrder(load).find((one) => load.places[one].mark === mark);
  if (place) return { place };
  if (!/^[A-Z0-9]{2,5}$/.test(mark)) return { words: translate("That is no mark and no slip of ours. Nothing was changed.") };
  return {
    words: translate(
      "No piece in this load is marked {mark}. Look at its foot again, or note it as found when you count up.",
      { mark },
    ),
  };
}
