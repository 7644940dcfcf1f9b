// The camera's own part of a page (templates/scan/camera.html): the button that starts it, its picture, the
// light, and plain words where there is no camera. It stops while nobody looks at the page.
//
//   useCamera(document.querySelector("[data-camera]"), (text) => { ... });
import { NoScanner, startScanner, View } from "./scanner.js";
import { mayBeHeard } from "./scanner_signs.js";

// On or off until the browser is shut. Says nothing of anybody.
const CHOICE = "camera";

function remember(on) {
  try {
    if (on) sessionStorage.setItem(CHOICE, "on");
    else sessionStorage.removeItem(CHOICE);
  } catch {
    // a browser that keeps nothing asks again on the next page
  }
}

function wanted() {
  try {
    return sessionStorage.getItem(CHOICE) === "on";
  } catch {
    return false;
  }
}

export function useCamera(section, onCode) {
  const at = (name) => section.querySelector(`[data-camera-${name}]`);
  const [start, view, video, stop, torch, why] = ["start", "view", "video", "stop", "torch", "why"].map(at);
  const inView = new View();
  let scanner = null;
  let starting = null;
  let asleep = false;
  let lit = false;

  const show = (on, trouble = "") => {
    section.dataset.state = on ? "on" : trouble ? "trouble" : "off";
    start.hidden = on;
    view.hidden = !on;
    torch.hidden = !on || !scanner?.torch;
    why.hidden = !trouble;
    for (const words of why.querySelectorAll("[data-why]")) words.hidden = words.dataset.why !== trouble;
  };
  const light = async (on) => {
    await scanner.torch(on);
    lit = on;
    torch.setAttribute("aria-pressed", String(on));
  };

  const begin = () => {
    starting ??= open().finally(() => {
      starting = null;
    });
    return starting;
  };
  const open = async () => {
    if (scanner) return;
    show(true);
    try {
      scanner = await startScanner({
        video,
        decoder: { script: section.dataset.decoder, wasm: section.dataset.wasm },
        view: inView,
        onCode,
        onStop(reason) {
          scanner = null;
          lit = false;
          torch.setAttribute("aria-pressed", "false");
          if (reason !== "asked") show(false, reason);
        },
      });
    } catch (error) {
      scanner = null;
      show(false, error instanceof NoScanner ? error.why : "busy");
      return;
    }
    section.dataset.engine = scanner.engine;
    show(true);
    if (document.hidden) sleep(); // it was turned away from while the camera started
  };
  const sleep = () => {
    if (!scanner) return;
    asleep = true;
    scanner.stop("asked");
    show(false);
  };

  start.addEventListener("click", () => {
    mayBeHeard();
    remember(true);
    begin();
  });
  stop.addEventListener("click", () => {
    remember(false);
    scanner?.stop("asked");
    show(false);
    start.focus();
  });
  torch.addEventListener("click", () => light(!lit).catch(() => {
    torch.hidden = true;
  }));
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) sleep();
    else if (asleep) {
      asleep = false;
      begin();
    }
  });
  window.addEventListener("pagehide", () => {
    sleep();
    asleep = false;
  });
  window.addEventListener("pageshow", (event) => {
    if (event.persisted && wanted()) begin();
  });

  section.hidden = false;
  show(false);
  if (wanted() && !document.hidden) begin();
  return { begin, stop: sleep };
}
