// @ts-check
// Listens for the codes of labels: from a hand scanner, from fingers; camera.js and photo.js tell it
// what they saw.
// A hand scanner is a keyboard that writes fast and ends with Enter or Tab, wherever the cursor stands.
// Fingers write into an input[data-scan]; a button[data-scan-for=ID] stands for its Enter.

const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const ALL = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const LENGTH = 12;
const GAP_MS = 300; // longer between two keys, and it is fingers
const SHORTEST = 4; // keys in a burst that can be a scan

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

/** Tell a code to all who listen. @param {string} code */
export function tell(code) {
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
