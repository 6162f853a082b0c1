// @ts-check
// A photograph of a label: read by this browser where it can, else by the service. Without a network
// it waits on this device, and what it held is shown once it was read. Nothing is recorded of it by
// itself: somebody takes what was read, or throws it away.

import { grouped, read, tell } from "./scan.js";

const SIDE = 1600; // pixels of the longer side that are sent
const QUALITY = 0.8;
const PATIENCE_MS = 10_000;
const AGAIN_MS = 15_000;
const MOST = 20; // photographs that wait on one device

/**
 * @typedef {{text: string, container: string | null}} Found
 * @typedef {{n?: number, taken: number, picture?: Blob, found?: Found[], why?: string}} Kept
 * @typedef {{codes: Found[]} | {later: true} | {why: string}} Answer
 */

// --- reading

/** What reads codes in this browser itself, if anything does. @returns {Promise<any>} */
export async function byItself() {
  const Detector = /** @type {any} */ (globalThis).BarcodeDetector;
  const formats = Detector ? await Detector.getSupportedFormats() : [];
  const wanted = ["qr_code", "code_128"].filter((format) => formats.includes(format));
  return wanted.includes("qr_code") ? new Detector({ formats: wanted }) : null;
}

/**
 * Have the service read a picture, no larger than is of use.
 * @param {HTMLVideoElement | ImageBitmap} source @returns {Promise<Answer>}
 */
export async function sent(source) {
  return asked(await smaller(source));
}

/** @param {Blob} picture @returns {Promise<Answer>} */
async function asked(picture) {
  try {
    const answer = await fetch("/v1/codes", {
      method: "POST",
      headers: { "Content-Type": picture.type, Accept: "application/json" },
      body: picture,
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    if (answer.ok) return await answer.json();
    const unfit = answer.status === 413 || answer.status === 422;
    return unfit ? { why: (await answer.json()).detail } : { later: true };
  } catch {
    return { later: true }; // no network, or it hangs
  }
}

/** @param {HTMLVideoElement | ImageBitmap} source @returns {Promise<Blob>} */
async function smaller(source) {
  const [width, height] =
    "videoWidth" in source ? [source.videoWidth, source.videoHeight] : [source.width, source.height];
  const part = Math.min(1, SIDE / Math.max(width, height));
  const canvas = new OffscreenCanvas(Math.round(width * part), Math.round(height * part));
  canvas.getContext("2d")?.drawImage(source, 0, 0, canvas.width, canvas.height);
  return canvas.convertToBlob({ type: "image/jpeg", quality: QUALITY });
}

/** @param {ImageBitmap} picture @returns {Promise<Found[]>} */
async function here(picture) {
  const detector = await byItself();
  if (!detector) return [];
  const found = await detector.detect(picture);
  return found.map((/** @type {any} */ { rawValue: text }) => {
    const { id, fault } = read(text);
    return { text, container: fault ? null : id };
  });
}

// --- those that wait on this device

/** @returns {Promise<IDBDatabase>} */
function opened() {
  return new Promise((done, failed) => {
    const opening = indexedDB.open("custody-photos", 1);
    opening.onupgradeneeded = () =>
      opening.result.createObjectStore("photo", { keyPath: "n", autoIncrement: true });
    opening.onsuccess = () => done(opening.result);
    opening.onerror = () => failed(opening.error);
  });
}

/**
 * @template T
 * @param {IDBTransactionMode} mode
 * @param {(photos: IDBObjectStore) => IDBRequest<T>} act
 * @returns {Promise<T>} once it is on the device
 */
async function within(mode, act) {
  const database = await opened();
  try {
    const transaction = database.transaction("photo", mode, { durability: "strict" });
    const request = act(transaction.objectStore("photo"));
    await new Promise((done, failed) => {
      transaction.oncomplete = done;
      transaction.onerror = transaction.onabort = () => failed(transaction.error);
    });
    return request.result;
  } finally {
    database.close();
  }
}

/** @returns {Promise<Kept[]>} */
const kept = () => within("readonly", (photos) => photos.getAll());
/** @param {Kept} photo @returns {Promise<any>} */
const put = (photo) => within("readwrite", (photos) => photos.put(photo));
/** @param {Kept} photo @returns {Promise<any>} */
const drop = (photo) =>
  within("readwrite", (photos) => photos.delete(/** @type {number} */ (photo.n)));

let reading = false;

/** Have read what waits, the oldest first; the picture goes as soon as it was. */
async function readWaiting() {
  if (reading) return;
  reading = true;
  try {
    for (const { picture, ...photo } of await kept()) {
      if (!picture) continue;
      const answer = await asked(picture);
      if ("later" in answer) break;
      const read = "codes" in answer ? { found: answer.codes } : { found: [], why: answer.why };
      await put({ ...photo, ...read });
      say("");
    }
  } finally {
    reading = false;
  }
  await show();
}

// --- what is told

const place = /** @type {HTMLElement | null} */ (document.querySelector("[data-photos]"));
const words = place?.dataset ?? {};

/** @param {string} sentence */
function say(sentence) {
  const said = /** @type {HTMLElement} */ (place?.querySelector("[role=status]"));
  said.textContent = sentence;
  said.hidden = !sentence;
}

async function show() {
  const list = place?.querySelector("ul");
  list?.replaceChildren(...(await kept()).map(row));
}

/** @param {Kept} photo */
function row(photo) {
  const made = document.createElement("li");
  const at = new Date(photo.taken).toLocaleTimeString(document.documentElement.lang, { timeStyle: "short" });
  const labels = (photo.found ?? []).filter((one) => one.container);
  const word = photo.picture ? words.waits : labels.length ? words.held : words.nothing;
  made.append(`${(word ?? "").replace("{at}", at)} ${photo.why ?? ""}`);
  for (const one of labels) made.append(choice(one, () => drop(photo)));
  const away = button(words.away ?? "", async () => {
    await drop(photo);
    await show();
  });
  away.className = "quiet";
  made.append(away);
  return made;
}

/** @param {Found} found @param {() => Promise<any>} then */
function choice(found, then) {
  const made = button(grouped(found.container ?? ""), async () => {
    await then();
    await show();
    say("");
    tell(found.text);
  });
  made.classList.add("id");
  return made;
}

/** @param {string} name @param {() => Promise<void>} act */
function button(name, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = name;
  made.addEventListener("click", act);
  return made;
}

// --- taking one

/** @param {HTMLInputElement} field */
async function take(field) {
  const [file] = field.files ?? [];
  field.value = ""; // so that the same may be chosen again
  if (!file) return;
  say(words.reading ?? "");
  let picture;
  try {
    picture = await createImageBitmap(file);
  } catch {
    return say(words.unfit ?? "");
  }
  const found = await here(picture).catch(() => []);
  if (found.some((one) => one.container)) return hear(found);
  const small = await smaller(picture);
  const answer = await asked(small);
  if ("codes" in answer) return hear(answer.codes);
  if ("why" in answer) return say(answer.why);
  try {
    const waits = (await kept()).length;
    if (waits < MOST) await put({ taken: Date.now(), picture: small });
    say((waits < MOST ? words.kept : words.full) ?? "");
  } catch {
    say(words.unkept ?? ""); // the device is full, or lets nothing be kept
  }
  await show();
}

/** One label is heard as if scanned; of several, somebody says which. @param {Found[]} found */
function hear(found) {
  const labels = found.filter((one) => one.container);
  say(labels.length ? (labels.length > 1 ? (words.which ?? "") : "") : (words.none ?? ""));
  if (labels.length === 1) return tell(labels[0].text);
  place?.querySelector("[role=status]")?.append(...labels.map((one) => choice(one, async () => {})));
}

for (const field of document.querySelectorAll("input[data-photo]")) {
  field.addEventListener("change", () => void take(/** @type {HTMLInputElement} */ (field)));
}
if (place) {
  addEventListener("online", () => void readWaiting());
  setInterval(() => void readWaiting(), AGAIN_MS);
  void show();
  void readWaiting();
}
