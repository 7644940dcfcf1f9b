// A sheet to draw on, above the field for a photo of a drawing: what is drawn goes as that field's picture.
// Without this there is the field alone.
import { translate } from "./words.js";

const WIDE = 800;
const HIGH = 600;
const THICK = 6;

function make(name, attributes = {}, words = "") {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.textContent = words;
  return node;
}

function begin(form) {
  const holder = form.querySelector(".sketch");
  const field = form.querySelector("input[type=file]");
  if (!holder || !field || !window.PointerEvent) return;
  const canvas = make("canvas", {
    width: WIDE,
    height: HIGH,
    class: "sketch__sheet",
    role: "img",
    "aria-label": translate("Sheet to draw on. The field below takes a photo instead."),
  });
  const wipe = make("button", { type: "button", class: "btn btn--paper btn--small" }, translate("Wipe it clean"));
  holder.append(canvas, wipe);
  holder.hidden = false;
  const pen = canvas.getContext("2d");
  let drawn = false;

  function clean() {
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, WIDE, HIGH);
    pen.strokeStyle = "#22302f";
    pen.lineWidth = THICK;
    pen.lineCap = "round";
    pen.lineJoin = "round";
    drawn = false;
  }

  function place(event) {
    const box = canvas.getBoundingClientRect();
    return [((event.clientX - box.left) * WIDE) / box.width, ((event.clientY - box.top) * HIGH) / box.height];
  }

  clean();
  wipe.addEventListener("click", clean);
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    pen.beginPath();
    pen.moveTo(...place(event));
    pen.lineTo(...place(event));
    pen.stroke();
    drawn = true;
    event.preventDefault();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!canvas.hasPointerCapture(event.pointerId)) return;
    pen.lineTo(...place(event));
    pen.stroke();
  });

  form.addEventListener("submit", (event) => {
    if (!drawn || field.files.length) return;
    event.preventDefault();
    canvas.toBlob((blob) => {
      if (blob) {
        const files = new DataTransfer();
        files.items.add(new File([blob], "sketch.png", { type: "image/png" }));
        field.files = files.files;
      }
      drawn = false;
      form.requestSubmit(event.submitter ?? undefined);
    }, "image/png");
  });
}

for (const form of document.querySelectorAll("form[data-sketch]")) begin(form);
