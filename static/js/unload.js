// Small comforts on the unload page. Everything works without them: the form sends what is ticked.
import { translate, translateMany } from "./words.js";

const form = document.querySelector("[data-unload]");

if (form) {
  for (const input of form.querySelectorAll("input[type=file]")) {
    input.addEventListener("change", () => {
      const word = input.closest("label").querySelector("[data-photo-count]");
      if (word) word.textContent = input.files.length ? translateMany("{count} taken", "{count} taken", input.files.length) : translate("none taken");
    });
  }

  const pick = form.querySelector("[data-shelf-pick]");
  if (pick) {
    pick.addEventListener("change", (event) => {
      const name = event.target.dataset.shelfName;
      if (!name) return;
      pick.querySelector("[data-shelf-word]").textContent = name;
      pick.open = false;
    });
  }

  // A second tap while the first is on its way would ask the same thing twice.
  let sending = false;
  form.addEventListener("submit", (event) => {
    if (sending) event.preventDefault();
    sending = true;
  });
  window.addEventListener("pageshow", () => {
    sending = false;
  });
}
