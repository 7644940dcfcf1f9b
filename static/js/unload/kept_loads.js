// The page for when there is no signal and no load in the address: which loads are here, and what waits.
import * as queue from "./queue.js";
import * as store from "./store.js";
import { translate, translateMany } from "../words.js";
import { othersWords } from "./panel.js";

export async function showKeptLoads(main) {
  const part = {};
  for (const node of main.querySelectorAll("[data-part]")) part[node.dataset.part] = node;
  if (!part.loads) return;
  const [loads, entries, person] = [await store.all("loads"), await queue.entries(), await store.fact("person")];
  const mine = entries.filter((entry) => entry.person === person);
  const others = entries.length - mine.length;
  part.loads.replaceChildren(
    ...loads.map((load) => {
      const row = document.createElement("li");
      const link = document.createElement("a");
      link.className = "btn btn--wide";
      link.href = load.urls.page;
      link.textContent = translate("Unload {load}, {kiln}", { load: load.words, kiln: load.kiln });
      row.append(link);
      return row;
    }),
  );
  part.nothing.hidden = loads.length > 0;
  if (mine.length) {
    part.summary.textContent = translateMany(
      "Kept here: {count} waiting. They are sent by themselves when there is a signal.",
      "Kept here: {count} waiting. They are sent by themselves when there is a signal.",
      mine.length,
    );
  }
  part.others.hidden = !others;
  part.others.textContent = othersWords(others);
  main.dataset.kept = mine.length;
  main.dataset.others = others;
}
