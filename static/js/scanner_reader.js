// Finds the QR codes in a picture: by the browser's own reader where it has one, else by the vendored one.
// Either tells [{ text, off }]; `off` is how far the code's middle is from the picture's, in pixels.

// More pixels than this across tell nothing new about a slip held before a phone.
const LARGEST_PX = 1280;

let loading = null;

export async function readerFor(decoder) {
  const own = await browsersOwn();
  const reader = own ?? (await vendored(decoder));
  return {
    engine: own ? "browser" : "wasm",
    async read(video) {
      if (this.engine === "browser") {
        try {
          return await own(video);
        } catch {
          // Some browsers name a reader that they can't start: then the other one takes over.
          this.engine = "wasm";
        }
      }
      return (this.engine === "wasm" && own ? await vendored(decoder) : reader)(video);
    },
  };
}

async function browsersOwn() {
  if (!("BarcodeDetector" in window)) return null;
  try {
    const kinds = await window.BarcodeDetector.getSupportedFormats();
    if (!kinds.includes("qr_code")) return null;
    const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
    return async (video) => {
      const codes = await detector.detect(video);
      return codes.map(({ rawValue, boundingBox: box }) => ({
        text: rawValue,
        off: Math.hypot(
          box.x + box.width / 2 - video.videoWidth / 2,
          box.y + box.height / 2 - video.videoHeight / 2,
        ),
      }));
    };
  } catch {
    return null;
  }
}

function vendored({ script, wasm }) {
  loading ??= load(script, wasm).catch((error) => {
    loading = null; // another try may have a signal
    throw error;
  });
  return loading;
}

async function load(script, wasm) {
  if (!window.ZXingWASM) {
    await new Promise((done, failed) => {
      const tag = document.createElement("script");
      tag.src = script;
      tag.addEventListener("load", done);
      tag.addEventListener("error", () => failed(new Error(`${script} could not be loaded.`)));
      document.head.append(tag);
    });
  }
  const { prepareZXingModule, readBarcodes } = window.ZXingWASM;
  await prepareZXingModule({
    overrides: { locateFile: (path, folder) => (path.endsWith(".wasm") ? wasm : folder + path) },
    fireImmediately: true,
  });
  const canvas = document.createElement("canvas");
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  return async (video) => {
    const part = Math.min(1, LARGEST_PX / Math.max(video.videoWidth, video.videoHeight, 1));
    canvas.width = Math.max(1, Math.round(video.videoWidth * part));
    canvas.height = Math.max(1, Math.round(video.videoHeight * part));
    pen.drawImage(video, 0, 0, canvas.width, canvas.height);
    const picture = pen.getImageData(0, 0, canvas.width, canvas.height);
    const codes = await readBarcodes(picture, {
      formats: ["QRCode"],
      tryHarder: true,
      tryInvert: false,
      maxNumberOfSymbols: 4,
    });
    return codes
      .filter((code) => code.isValid)
      .map(({ text, position: { topLeft: a, bottomRight: b } }) => ({
        text,
        off: Math.hypot((a.x + b.x - canvas.width) / 2, (a.y + b.y - canvas.height) / 2),
      }));
  };
}
