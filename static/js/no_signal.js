// Without a signal a sent form would leave for the browser's own error page, and what was typed with it.
// So it stays, with a word beside its button, until there is a signal again.

const note = document.getElementById("no-signal");

// Heard before every other script, so that none of them takes the form for sent.
document.addEventListener(
  "submit",
  (event) => {
    if (navigator.onLine) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const { target: form, submitter } = event;
    const place = submitter?.form === form && form.contains(submitter) ? submitter.parentElement : form;
    document.querySelector(".no-signal")?.remove();
    const said = note.content.firstElementChild.cloneNode(true);
    if (place === form) form.append(said);
    else place.before(said);
    said.scrollIntoView({ block: "center" });
  },
  { capture: true },
);

window.addEventListener("online", () => document.querySelector(".no-signal")?.remove());
