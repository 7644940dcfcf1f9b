// A photo that was taken goes at once: no second press. Without this the button beside it sends it.

for (const input of document.querySelectorAll("input[type=file][data-at-once]")) {
  input.form.querySelector("[data-by-hand]").hidden = true;
  input.addEventListener("change", () => {
    // After the picture has begun to be made smaller, which the sending waits for.
    if (input.files.length) setTimeout(() => input.form.requestSubmit());
  });
}
