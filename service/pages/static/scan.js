// @ts-check
// Listens for the codes of labels: from a hand scanner, from fingers, from a camera.
// A hand scanner is a keyboard that writes fast and ends with Enter or Tab, wherever the cursor stands.
// Fingers write into an input[data-scan]; a button[data-scan-for=ID] stands for its Enter.
// A button[data-camera=ID] opens the camera in the video of that id, where the browser reads codes.

const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const ALL = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const LENGTH = 12;
const GAP_MS = 300; // longer between two keys, and it is fingers
const SHORTEST = 4; // keys in a burst that can be a scan
const LOOK_MS = 150; // between two looks of the camera
const GONE_MS = 2000; // out of sight for so long, a label counts as seen anew

/** @type {Set<(code: string) => void>} */
const listeners = new Set();

/** Have every code told. @param {(code: string) => void} listener */
export function onScan(listener) {
  listeners.add(listener);
}

/** ISO 7064 MOD 37,36. @param {string} body */
export function checkCharacter(body) {
  let product = 36;
  for (const character of body) {
    const total = (product + ALL.indexOf(character)) % 36 || 36;
    product = (total * 2) % 37;
  }
  return ALL[(37 - product) % 36];
}

/**
 * The container id in a code, or why there is none: "length", "strange" (a character that no id
 * has) or "check" (its check character is wrong). The service reads the code itself again.
 * @param {string} code
 * @returns {{id: string, fault: "" | "length" | "strange" | "check"}}
 */
export function read(code) {
  const parts = code.trim().toUpperCase().split("/").filter(Boolean);
  const address = code.includes("/");
  const named = address ? parts.find((part, at) => at > 0 && whole(part)) : parts.join("");
  const id = (named ?? "").replace(/[\s-]/g, "").replace(/O/g, "0").replace(/[IL]/g, "1");
  if (id.length !== LENGTH) return { id, fault: "length" };
  if (![...id].every((character) => ALPHABET.includes(character))) return { id, fault: "strange" };
  // An address with a wrong id goes on: that a label is false is a finding, not a slip.
  const right = address || checkCharacter(id.slice(0, -1)) === id.at(-1);
  return { id, fault: right ? "" : "check" };
}

/** @param {string} part */
function whole(part) {
  return part.length === LENGTH && [...part].every((character) => ALPHABET.includes(character));
}

/** An id in groups of four, as on the label. @param {string} id */
export function grouped(id) {
  return id.replace(/(.{4})(?=.)/g, "$1 ");
}

/** @param {string} code */
function tell(code) {
  if (code.trim()) for (const listener of listeners) listener(code.trim());
}

// --- a hand scanner

let burst = "";
let last = 0;
/** @type {{field: any, value: string} | null} */
let before = null;

/** @param {KeyboardEvent} event */
function key(event) {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  const field = /** @type {any} */ (event.target);
  if (event.key === "Enter" || event.key === "Tab") return ended(event, field);
  if (event.key.length !== 1) return;
  if (event.timeStamp - last > GAP_MS) {
    burst = "";
    before = "value" in field ? { field, value: field.value } : null;
  }
  burst += event.key;
  last = event.timeStamp;
}

/** @param {KeyboardEvent} event @param {any} field */
function ended(event, field) {
  const code = event.timeStamp - last > GAP_MS ? "" : burst;
  burst = "";
  const moves = event.key === "Tab"; // fingers go on to the next field by it: a whole id alone is a scan
  if (moves && (event.shiftKey || code.length < LENGTH)) return;
  if (field.matches?.("input[data-scan]")) {
    event.preventDefault();
    return typed(field);
  }
  const writing = field.matches?.("input, select, textarea");
  // What a scale or fingers write into a field is no code; a code written there is put back.
  const scanned = writing ? code.length >= LENGTH && !read(code).fault : code.length >= SHORTEST;
  if (!scanned) return;
  event.preventDefault();
  if (before && before.field === field && field.value !== before.value) {
    field.value = before.value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
  tell(code);
}

/** @param {HTMLInputElement} field */
function typed(field) {
  const code = field.value;
  field.value = "";
  tell(code);
}

document.addEventListener("keydown", key, true);
document.addEventListener("click", (event) => {
  const button = /** @type {HTMLElement} */ (event.target).closest?.("button[data-scan-for]");
  if (!(button instanceof HTMLElement)) return;
  const field = document.getElementById(button.dataset.scanFor ?? "");
  if (field instanceof HTMLInputElement) typed(field);
});

// --- a camera

/** Whether this browser reads codes by itself. */
async function reader() {
  const Detector = /** @type {any} */ (globalThis).BarcodeDetector;
  if (!Detector || !navigator.mediaDevices?.getUserMedia) return null;
  const formats = await Detector.getSupportedFormats();
  const wanted = ["qr_code", "code_128"].filter((format) => formats.includes(format));
  return wanted.includes("qr_code") ? new Detector({ formats: wanted }) : null;
}

/** @param {HTMLElement} button */
async function camera(button) {
  const detector = await reader();
  const video = document.getElementById(button.dataset.camera ?? "");
  if (!detector || !(video instanceof HTMLVideoElement)) return;
  button.hidden = false;
  button.setAttribute("aria-pressed", "false");
  button.addEventListener("click", () => toggle(button, video, detector));
}

/** @param {HTMLElement} button @param {HTMLVideoElement} video @param {any} detector */
async function toggle(button, video, detector) {
  if (video.srcObject) return close(button, video);
  try {
    video.srcObject = await navigator.mediaDevices.getUserMedia({
      video: { facingMode: "environment", width: { ideal: 1280 } },
    });
  } catch {
    // Nobody allowed it, or there is none: the page says so, and typing and scanner remain.
    const told = document.getElementById(button.dataset.cameraTold ?? "");
    if (told) told.hidden = false;
    return;
  }
  video.hidden = false;
  button.setAttribute("aria-pressed", "true");
  await video.play();
  look(video, detector, new Map());
}

/** @param {HTMLElement} button @param {HTMLVideoElement} video */
function close(button, video) {
  const stream = /** @type {MediaStream} */ (video.srcObject);
  for (const track of stream.getTracks()) track.stop();
  video.srcObject = null;
  video.hidden = true;
  button.setAttribute("aria-pressed", "false");
}

/** @param {HTMLVideoElement} video @param {any} detector @param {Map<string, number>} seen */
async function look(video, detector, seen) {
  if (!video.srcObject) return;
  const found = video.readyState >= 2 ? await detector.detect(video) : [];
  const now = performance.now();
  for (const { rawValue } of found) {
    const before = seen.get(rawValue);
    seen.set(rawValue, now);
    if (before === undefined || now - before > GONE_MS) tell(rawValue);
  }
  setTimeout(() => look(video, detector, seen), LOOK_MS);
}

for (const button of document.querySelectorAll("button[data-camera]")) {
  camera(/** @type {HTMLElement} */ (button));
}
