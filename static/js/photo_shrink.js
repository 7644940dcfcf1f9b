// Shrinks a photo before it is sent: a phone's 8 MB become a few hundred KB, which weak Wi-Fi can carry.
// Without this, or when anything goes wrong, the file goes as it is and the studio shrinks it.

export async function shrunk(file, longest) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const part = Math.min(1, longest / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * part));
  canvas.height = Math.max(1, Math.round(picture.height * part));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#fff"; // JPEG knows no transparency
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.88));
  if (!blob || blob.size >= file.size) return file;
  return new File([blob], "photo.jpg", { type: "image/jpeg", lastModified: file.lastModified });
}

let atWork = 0;

async function shrink(input) {
  const [file] = input.files;
  if (!file || !file.type.startsWith("image/")) return;
  atWork += 1;
  try {
    const small = await shrunk(file, Number(input.dataset.shrink) || 2000);
    if (input.files[0] !== file) return; // another one was chosen meanwhile
    const files = new DataTransfer();
    files.items.add(small);
    input.files = files.files;
  } catch {
    // left as it is
  } finally {
    atWork -= 1;
  }
}

document.addEventListener("change", (event) => {
  if (event.target.matches?.("input[type=file][data-shrink]")) shrink(event.target);
});

// A form sent while its photo is being shrunk waits for it, so that the small one goes.
document.addEventListener("submit", (event) => {
  if (!atWork || event.defaultPrevented) return;
  event.preventDefault();
  const { target, submitter } = event;
  const wait = setInterval(() => {
    if (atWork) return;
    clearInterval(wait);
    target.requestSubmit(submitter ?? undefined);
  }, 50);
});
