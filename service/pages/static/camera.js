// @ts-check
// The camera: a button[data-camera=ID] opens it in the video of that id. Where the browser reads
// codes by itself it does; else one frame after another is sent to the service to be read.

import { byItself, sent } from "./photo.js";
import { tell } from "./scan.js";

const LOOK_MS = 150; // between two looks
const AGAIN_MS = 2000; // until the next, when the service could not look
const GONE_MS = 2000; // out of sight for so long, a label counts as seen anew
const IDLE_MS = 90_000; // a camera that sees nothing for so long is shut

/** @param {HTMLElement} button */
function offer(button) {
  const video = document.getElementById(button.dataset.camera ?? "");
  if (!navigator.mediaDevices?.getUserMedia || !(video instanceof HTMLVideoElement)) return;
  button.hidden = false;
  button.setAttribute("aria-pressed", "false");
  button.addEventListener("click", () => toggle(button, video));
}

/** @param {HTMLElement} button @param {HTMLVideoElement} video */
async function toggle(button, video) {
  if (video.srcObject) return close(button, video);
  told(button, "");
  try {
    video.srcObject = await navigator.mediaDevices.getUserMedia({
      video: { facingMode: "environment", width: { ideal: 1280 } },
    });
  } catch {
    // Nobody allowed it, or there is none: the page says so, and typing and scanner remain.
    return told(button, "barred");
  }
  video.hidden = false;
  button.setAttribute("aria-pressed", "true");
  await video.play();
  await watch(button, video);
}

/** Say one of the sentences that stand with the button's place for it, or none. */
/** @param {HTMLElement} button @param {string} word */
function told(button, word) {
  const place = document.getElementById(button.dataset.cameraTold ?? "");
  if (!place) return;
  place.hidden = !word;
  place.textContent = (word && place.dataset[word]) || "";
}

/** @param {HTMLElement} button @param {HTMLVideoElement} video */
function close(button, video) {
  const stream = /** @type {MediaStream} */ (video.srcObject);
  for (const track of stream.getTracks()) track.stop();
  video.srcObject = null;
  video.hidden = true;
  button.setAttribute("aria-pressed", "false");
}

/** @param {HTMLElement} button @param {HTMLVideoElement} video */
async function watch(button, video) {
  const detector = await byItself();
  /** @type {Map<string, number>} */
  const seen = new Map();
  let last = performance.now();
  while (video.srcObject) {
    const found = video.readyState < 2 ? [] : await look(video, detector);
    if (!video.srcObject) return;
    const now = performance.now();
    told(button, found ? "" : "unread");
    for (const text of found ?? []) {
      last = now;
      const before = seen.get(text);
      seen.set(text, now);
      if (before === undefined || now - before > GONE_MS) tell(text);
    }
    if (now - last > IDLE_MS) close(button, video);
    await new Promise((go) => setTimeout(go, found ? LOOK_MS : AGAIN_MS));
  }
}

/**
 * The texts in sight; null if nobody could look.
 * @param {HTMLVideoElement} video @param {any} detector @returns {Promise<string[] | null>}
 */
async function look(video, detector) {
  if (detector) return (await detector.detect(video)).map((/** @type {any} */ one) => one.rawValue);
  const answer = await sent(video);
  return "codes" in answer ? answer.codes.map((one) => one.text) : null;
}

for (const button of document.querySelectorAll("button[data-camera]")) {
  offer(/** @type {HTMLElement} */ (button));
}
