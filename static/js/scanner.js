// Reads QR codes from the camera without a pause, for as long as it is wanted. A code is told once, and
// again only after it has left the view.
//
//   const scanner = await startScanner({ video, decoder: { script, wasm }, onCode(text) {}, onStop(why) {} });
//   scanner.stop(); scanner.torch (null where there is none); await scanner.torch?.(true); scanner.engine
//
// Throws NoScanner, whose `why` is "insecure", "refused", "absent", "busy" or "reader".
import { readerFor } from "./scanner_reader.js";

const PAUSE_MS = 90;
const GONE_MS = 1500;
const GONE_FRAMES = 4;

export class NoScanner extends Error {
  constructor(why, cause) {
    super(why, { cause });
    this.why = why;
  }
}

// What is in view. Of several codes the one nearest the middle counts: pointing chooses.
export class View {
  #taken = new Map();

  // The text that is new, or null. `found`: [{ text, off }], `off` being its distance from the middle.
  newIn(found, now = performance.now()) {
    const texts = new Set(found.map((code) => code.text));
    for (const [text, seen] of this.#taken) {
      if (texts.has(text)) {
        seen.at = now;
        seen.missed = 0;
      } else {
        seen.missed += 1;
        if (seen.missed >= GONE_FRAMES && now - seen.at >= GONE_MS) this.#taken.delete(text);
      }
    }
    if (!found.length) return null;
    const { text } = found.reduce((near, code) => (code.off < near.off ? code : near));
    if (this.#taken.has(text)) return null;
    this.#taken.set(text, { at: now, missed: 0 });
    return text;
  }
}

async function openCamera() {
  if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia) throw new NoScanner("insecure");
  try {
    return await navigator.mediaDevices.getUserMedia({
      audio: false,
      video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } },
    });
  } catch (error) {
    const why = { NotAllowedError: "refused", SecurityError: "refused", NotFoundError: "absent" }[error.name];
    throw new NoScanner(why ?? "busy", error);
  }
}

export async function startScanner({ video, decoder, onCode, onStop = () => {}, view = new View() }) {
  const stream = await openCamera();
  const [track] = stream.getVideoTracks();
  let running = true;
  const stop = (why = "asked") => {
    if (!running) return;
    running = false;
    for (const one of stream.getTracks()) one.stop();
    video.srcObject = null;
    onStop(why);
  };
  track.addEventListener("ended", () => stop("busy"));
  let reader;
  try {
    video.srcObject = stream;
    reader = await readerFor(decoder);
    await video.play();
  } catch (error) {
    stop("reader");
    throw new NoScanner("reader", error);
  }
  const can = track.getCapabilities?.() ?? {};
  if (can.focusMode?.includes("continuous")) {
    track.applyConstraints({ advanced: [{ focusMode: "continuous" }] }).catch(() => {});
  }

  (async () => {
    while (running) {
      if (video.readyState >= video.HAVE_CURRENT_DATA) {
        try {
          const found = await reader.read(video);
          const text = running ? view.newIn(found) : null;
          if (text !== null) onCode(text);
        } catch (error) {
          stop("reader");
          throw error;
        }
      }
      await new Promise((done) => setTimeout(done, PAUSE_MS));
    }
  })();

  return {
    stop,
    torch: can.torch ? (on) => track.applyConstraints({ advanced: [{ torch: on }] }) : null,
    get engine() {
      return reader.engine;
    },
  };
}
