// @ts-check
// What was done and is not answered yet. Each event is kept on this device first, and taken off only
// once the service has said that it is on record, or somebody has seen why it was turned away.

import { isolated, moment, told } from "./language.js";

const AT_ONCE = 100;
const AGAIN_MS = 15_000;
const PATIENCE_MS = 10_000;

/**
 * @typedef {{n?: number, event: Record<string, any>, turnedAway: string}} Kept
 * @typedef {{state: "recorded" | "repeated" | "refused" | "waiting", reason: string,
 *   violations: any[]}} Outcome
 */

/** @type {Set<() => void>} */
const listeners = new Set();
/** @type {Map<string, Outcome>} */
const answers = new Map();
/** Ids of events whose outcome somebody waits for. @type {Set<string>} */
const asked = new Set();
/** @type {Promise<void> | null} */
let sending = null;
let signInFirst = false;

// --- on this device

/** @returns {Promise<IDBDatabase>} */
function opened() {
  return new Promise((done, failed) => {
    const opening = indexedDB.open("custody", 1);
    opening.onupgradeneeded = () =>
      opening.result.createObjectStore("queue", { keyPath: "n", autoIncrement: true });
    opening.onsuccess = () => done(opening.result);
    opening.onerror = () => failed(opening.error);
  });
}

/**
 * @template T
 * @param {IDBTransactionMode} mode
 * @param {(queue: IDBObjectStore) => IDBRequest<T>} act
 * @returns {Promise<T>} once it is on the device
 */
async function within(mode, act) {
  const database = await opened();
  try {
    const transaction = database.transaction("queue", mode, { durability: "strict" });
    const request = act(transaction.objectStore("queue"));
    await new Promise((done, failed) => {
      transaction.oncomplete = done;
      transaction.onerror = transaction.onabort = () => failed(transaction.error);
    });
    return request.result;
  } finally {
    database.close();
  }
}

/** @returns {Promise<Kept[]>} in the order in which they were made */
function kept() {
  return within("readonly", (queue) => queue.getAll());
}

/** What is not sent yet. @returns {Promise<Record<string, any>[]>} */
export async function waiting() {
  return (await kept()).filter((each) => !each.turnedAway).map((each) => each.event);
}

/** Have every change of what waits told. @param {() => void} listener */
export function onChange(listener) {
  listeners.add(listener);
}

// --- events

/** UUIDv7 (RFC 9562, section 5.7). */
function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  const now = Date.now();
  for (let at = 0; at < 6; at += 1) bytes[at] = Math.floor(now / 2 ** (8 * (5 - at))) % 256;
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
}

/**
 * Something that happens now, by who is signed in.
 * @param {string} kind @param {Record<string, any>} fields
 */
export function newEvent(kind, fields) {
  const { actor, device } = document.body.dataset;
  const who = device ? { actor, device } : { actor };
  return { id: newId(), kind, occurred_at: new Date().toISOString(), ...who, ...fields };
}

/**
 * Keep an event, and try to send it with all that waits.
 * @param {Record<string, any>} event
 * @returns {Promise<Outcome>}
 */
export async function record(event) {
  await within("readwrite", (queue) => queue.add({ event, turnedAway: "" }));
  asked.add(event.id);
  await changed();
  await send();
  asked.delete(event.id);
  const found = answers.get(event.id);
  answers.delete(event.id);
  return found ?? { state: "waiting", reason: "", violations: [] };
}

// --- sending

/** Send what waits; who asks while it is being sent is answered after one more round. */
async function send() {
  while (sending) await sending;
  sending = round();
  try {
    await sending;
  } finally {
    sending = null;
  }
}

async function round() {
  for (;;) {
    const some = (await kept()).filter((each) => !each.turnedAway).slice(0, AT_ONCE);
    const whole = some.length > 0 && (await sent(some));
    await changed();
    if (!whole) return;
  }
}

/** @param {Kept[]} some @returns {Promise<boolean>} whether all were answered */
async function sent(some) {
  /** @type {any} */
  let outcomes;
  try {
    const answer = await fetch("/v1/events", {
      method: "POST",
      headers: {
        "Content-Type": "application/json",
        Accept: "application/json",
        "Custody-Device-Time": new Date().toISOString(),
      },
      body: JSON.stringify(some.map((each) => each.event)),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    signInFirst = answer.status === 401;
    if (!answer.ok) return false;
    outcomes = await answer.json();
  } catch {
    return false; // no network; what is kept stays, and is tried again
  }
  if (outcomes.length !== some.length) return false;
  for (const [at, each] of some.entries()) {
    const { outcome, reason = "", violations = [] } = outcomes[at];
    const refused = outcome === "refused";
    if (!refused && outcome !== "recorded" && outcome !== "repeated") return false;
    if (asked.delete(each.event.id)) {
      answers.set(each.event.id, { state: outcome, reason: reason ?? "", violations });
    }
    await within("readwrite", (queue) =>
      refused
        ? /** @type {IDBRequest<any>} */ (queue.put({ ...each, turnedAway: reason || "?" }))
        : /** @type {IDBRequest<any>} */ (queue.delete(/** @type {number} */ (each.n))),
    );
  }
  return true;
}

// --- always in sight

/** @param {Kept[]} all */
function show(all) {
  const line = document.getElementById("unsent");
  const list = document.getElementById("turned-away");
  if (!line || !list) return;
  const count = all.filter((each) => !each.turnedAway).length;
  line.hidden = !count;
  const words = signInFirst ? line.dataset.signIn : line.dataset.words;
  line.textContent = count ? `${count} ${words}` : "";
  const away = all.filter((each) => each.turnedAway);
  list.hidden = !away.length;
  const rows = /** @type {HTMLElement} */ (list.querySelector("ul"));
  const kinds = JSON.parse(list.dataset.kinds ?? "{}");
  rows.replaceChildren(...away.map((each) => row(each, list.dataset.seen ?? "", kinds)));
}

/** @param {Kept} each @param {string} seen @param {Record<string, string>} kinds */
function row(each, seen, kinds) {
  const made = document.createElement("li");
  const { kind, containers = [], occurred_at } = each.event;
  const what = document.createElement("p");
  const ids = containers.slice(0, 3).map(isolated);
  what.textContent = [kinds[kind] ?? kind, ...ids, moment(occurred_at)].join(" · ");
  const why = document.createElement("p");
  why.append(told(each.turnedAway));
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = seen;
  button.addEventListener("click", async () => {
    await within("readwrite", (queue) => queue.delete(/** @type {number} */ (each.n)));
    await changed();
  });
  made.append(what, why, button);
  return made;
}

async function changed() {
  show(await kept());
  for (const listener of listeners) listener();
}

addEventListener("online", () => void send());
setInterval(() => void send(), AGAIN_MS);
navigator.storage?.persist?.();
await changed();
void send();
