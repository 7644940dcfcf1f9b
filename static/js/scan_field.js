// A hand scanner types and presses Enter: the field is kept ready, and what is left in it is replaced.
const field = document.querySelector("[data-scan]");
field.focus({ preventScroll: true });
field.select();
field.form.addEventListener("submit", (event) => {
  // One reading is one act: a scanner that fires twice must not send twice.
  if (field.form.dataset.sent) event.preventDefault();
  field.form.dataset.sent = "1";
});
window.addEventListener("pageshow", () => delete field.form.dataset.sent);
