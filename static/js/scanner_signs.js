// Says how a scan went so that it is heard, felt and seen from an arm's length: a tone, a buzz, and the whole
// screen in a colour with a sign and a word. The sentence stays on the page, in the list of `data-said`.

const TONES = {
  taken: [[1320, 0.09]],
  refused: [[220, 0.16], [180, 0.22]],
  unknown: [[520, 0.1], [390, 0.16]],
  "not-sent": [[330, 0.12], [330, 0.12], [330, 0.12]],
};
const BUZZES = { taken: 60, refused: [90, 70, 90], unknown: [50, 60, 50], "not-sent": [200, 80, 200] };
const SHOWN_MS = { taken: 650, refused: 1500, unknown: 1300, "not-sent": 1500 };
const MOST_SAID = 8;

let sound = null;

// Browsers give a page no voice before it has been touched.
export function mayBeHeard() {
  try {
    sound ??= new AudioContext();
    sound.resume();
  } catch {
    sound = null;
  }
}
for (const touch of ["pointerdown", "keydown"]) document.addEventListener(touch, mayBeHeard, { once: true });

function play(tones) {
  if (sound?.state !== "running") return;
  let at = sound.currentTime;
  for (const [pitch, seconds] of tones) {
    const voice = sound.createOscillator();
    const loud = sound.createGain();
    voice.frequency.value = pitch;
    loud.gain.setValueAtTime(0.0001, at);
    loud.gain.exponentialRampToValueAtTime(0.4, at + 0.01);
    loud.gain.exponentialRampToValueAtTime(0.0001, at + seconds);
    voice.connect(loud).connect(sound.destination);
    voice.start(at);
    voice.stop(at + seconds);
    at += seconds + 0.05;
  }
}

let hiding = 0;

// `outcome`: "taken", "refused", "unknown" or "not-sent"; `said`: { word, mark, sentence, href }.
export function tell(outcome, said = {}) {
  play(TONES[outcome]);
  navigator.vibrate?.(BUZZES[outcome]);
  const screen = document.querySelector("[data-signal]");
  if (screen) show(screen, outcome, said);
  const list = document.querySelector("[data-said]");
  if (list) keep(list, outcome, said);
}

function show(screen, outcome, said) {
  const sign = signOf(outcome);
  const [word, mark] = screen.querySelectorAll("[data-signal-word], [data-signal-mark]");
  screen.querySelector("[data-signal-sign]").replaceChildren(...(sign ? [sign] : []));
  word.textContent = said.word || wordOf(outcome);
  mark.textContent = said.mark || "";
  screen.className = `signal signal--${outcome}`;
  screen.hidden = false;
  clearTimeout(hiding);
  hiding = setTimeout(() => {
    screen.hidden = true;
  }, SHOWN_MS[outcome]);
}

// The list stays: what was refused must be found again after the colour is gone.
function keep(list, outcome, said) {
  const line = document.createElement("li");
  line.className = `said said--${outcome}`;
  const sign = signOf(outcome);
  const words = document.createElement("span");
  const word = document.createElement("b");
  word.textContent = said.word || wordOf(outcome);
  words.append(word, " ");
  if (said.href) {
    const link = document.createElement("a");
    link.href = said.href;
    link.textContent = said.sentence;
    words.append(link);
  } else {
    words.append(said.sentence ?? "");
  }
  line.append(...(sign ? [sign] : []), words);
  list.prepend(line);
  while (list.children.length > MOST_SAID) list.lastElementChild.remove();
}

function template(outcome) {
  return document.querySelector(`template[data-sign="${outcome}"]`);
}

function signOf(outcome) {
  return template(outcome)?.content.firstElementChild?.cloneNode(true) ?? null;
}

function wordOf(outcome) {
  return template(outcome)?.dataset.word ?? "";
}
