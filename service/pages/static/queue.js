// @ts-check
// What was done and is not answered yet. Each event is kept on this device first, and taken off only
// once the service has said that it is on record; what it had to say besides stays until it is seen.

import { showBack, showUnsent } from "./back.js";
import { found, keep, kept, put } from "./kept.js";
import { signal } from "./signal.js";

const AT_ONCE = 100;
const AGAIN_MS = 15_000;
const PATIENCE_MS = 10_000;
const STAND_MS = 2000; // so long somebody stands and waits for an answer
const REST_MS = 5000; // after no answer, nobody waits for one for so long
const AT_FAULT = [400, 413, 422]; // answers that speak of what was sent, and not of who or when

/**
 * @typedef {import("./kept.js").Kept} Kept
 * @typedef {import("./kept.js").Outcome} Outcome
 */

const { actor = "", device = "" } = document.body.dataset;
/** @type {Set<() => void>} */
const listeners = new Set();
/** @type {Map<string, Outcome>} */
const answers = new Map();
/** Ids of events whose outcome somebody waits for. @type {Set<string>} */
const asked = new Set();
/** Why nothing is sent, as it is named in the page. @type {"" | "signIn" | "notYours"} */
let hindered = "";
let restUntil = 0;
let busyUntil = 0;

/**
 * Whether it goes out while this person is signed in. Whoever is signed in writes in their own name;
 * an enrolled device hands on what others did at it, but for what was not taken from it so.
 * @param {Kept} each
 */
const goes = (each) => !each.back && (each.event.actor === actor || (device !== "" && !each.held));

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
  const who = device ? { actor, device } : { actor };
  return { id: newId(), kind, occurred_at: new Date().toISOString(), ...who, ...fields };
}

/**
 * Keep an event, and try to send it with all that waits. What comes back later than anybody waits
 * for it stands at the top of every page until it is seen.
 * @param {Record<string, any>} event
 * @returns {Promise<Outcome>}
 */
export async function record(event) {
  await keep(event);
  asked.add(event.id);
  changed();
  if (Date.now() >= restUntil) await Promise.race([send(), patience()]);
  asked.delete(event.id);
  const outcome = await answered(event.id);
  changed();
  return outcome;
}

const patience = () => new Promise((resolve) => setTimeout(resolve, STAND_MS));

/** @param {string} id @returns {Promise<Outcome>} */
async function answered(id) {
  const known = answers.get(id);
  answers.delete(id);
  if (known) return known;
  const still = await found(id);
  if (still && !still.back) return { state: "waiting", reason: "", violations: [] };
  // Another window of this device has sent it.
  if (still?.back && still.back.state !== "refused") await put([still]);
  return still?.back ?? { state: "recorded", reason: "", violations: [] };
}

// --- sending

/** @type {Promise<void> | null} */
let running = null;
/** @type {Promise<void> | null} */
let following = null;

/** Send what waits; all who ask while it is being sent share one more round after it. */
function send() {
  if (!running) {
    running = alone(round).finally(() => {
      running = null;
    });
    return running;
  }
  following ??= running.then(() => {
    following = null;
    return send();
  });
  return following;
}

/** One window of a device sends at a time. @param {() => Promise<void>} work */
async function alone(work) {
  await (navigator.locks ? navigator.locks.request("custody queue", work) : work());
}

async function round() {
  const tried = new Set();
  for (;;) {
    if (Date.now() < busyUntil) break;
    const all = (await kept()).filter((each) => goes(each) && !tried.has(each.n));
    const some = all.slice(0, AT_ONCE);
    if (!some.length || !(await sent(some))) break;
    for (const each of some) tried.add(each.n);
    changed();
  }
  changed();
}

/**
 * @param {Kept[]} some
 * @returns {Promise<boolean>} whether to go on with others
 */
async function sent(some) {
  let answer;
  let body;
  try {
    answer = await fetch("/v1/events", {
      method: "POST",
      headers: {
        "Content-Type": "application/json",
        Accept: "application/json",
        "Custody-Device-Time": new Date().toISOString(),
      },
      body: JSON.stringify(some.map((each) => each.event)),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    body = await answer.json().catch(() => null);
  } catch {
    restUntil = Date.now() + REST_MS; // no network: what is kept stays, and is tried again
    return false;
  }
  const { status } = answer;
  hindered = status === 401 ? "signIn" : status === 403 ? "notYours" : "";
  if (answer.ok) return settled(some, body);
  const later = wait(answer.headers.get("Retry-After"));
  if (later) {
    busyUntil = Date.now() + later;
    setTimeout(again, later);
    return false;
  }
  const fault = AT_FAULT.includes(status);
  if (!fault && status !== 500) return false;
  if (some.length > 1) {
    const half = Math.ceil(some.length / 2); // one among them is at fault: the others go on
    return (await sent(some.slice(0, half))) && (await sent(some.slice(half)));
  }
  const reason = body?.detail ?? String(status);
  if (fault) await turnedAway(some[0], { state: "refused", reason, violations: [] });
  return true; // what the service fails at waits, and holds up nothing behind it
}

/** Milliseconds that the service asks to wait (RFC 9110, section 10.2.3). @param {string | null} said */
function wait(said) {
  if (!said) return 0;
  const span = /^\d+$/.test(said) ? Number(said) * 1000 : Date.parse(said) - Date.now();
  return span > 0 ? Math.min(span, 3_600_000) : 0;
}

/** @param {Kept[]} some @param {any} outcomes @returns {Promise<boolean>} */
async function settled(some, outcomes) {
  // Anything else was not said by the service: a network that asks for its own sign-in, say.
  if (!Array.isArray(outcomes) || outcomes.length !== some.length) return false;
  const gone = [];
  restUntil = 0;
  for (const [at, each] of some.entries()) {
    const { outcome: state, reason = "", violations = [] } = outcomes[at];
    const said = { state, reason: reason ?? "", violations };
    if (state === "refused") await turnedAway(each, said);
    else if (state !== "recorded" && state !== "repeated") return false;
    else if (asked.has(each.event.id)) {
      answers.set(each.event.id, said);
      gone.push(each);
    } else if (state === "recorded" && violations.some((/** @type {any} */ one) => one.standing)) {
      await put([], [{ ...each, back: said }]);
      signal("stop");
    } else gone.push(each);
  }
  await put(gone);
  return true;
}

/** @param {Kept} each @param {Outcome} said */
async function turnedAway(each, said) {
  if (each.event.actor !== actor) return put([], [{ ...each, held: true }]);
  if (asked.has(each.event.id)) answers.set(each.event.id, said);
  else signal("stop");
  return put([], [{ ...each, back: said }]);
}

// --- always in sight

/** @type {Promise<void> | null} */
let showing = null;

/** Show what is kept, here and in the device's other windows: once for all that changes meanwhile. */
function changed() {
  showing ??= show().finally(() => {
    showing = null;
    others?.postMessage("changed");
  });
}

async function show() {
  await new Promise((resolve) => setTimeout(resolve, 50));
  const all = await kept();
  const unsent = all.filter((each) => !each.back);
  const mine = unsent.filter(goes).length;
  showUnsent(mine, unsent.length - mine, hindered);
  // What somebody did on a shared telephone is shown to nobody else.
  const back = all.filter((each) => each.back && each.event.actor === actor);
  showBack(back.filter((each) => !asked.has(each.event.id)), seen);
  for (const listener of listeners) listener();
}

/** @param {Kept[]} some */
async function seen(some) {
  await put(some);
  changed();
}

const others = globalThis.BroadcastChannel ? new BroadcastChannel("custody queue") : null;
if (others) others.onmessage = () => void show();

const again = () => void send();
addEventListener("online", again);
setInterval(again, AGAIN_MS);
navigator.storage?.persist?.();
changed();
again();
