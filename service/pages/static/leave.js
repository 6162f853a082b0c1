// @ts-check
// Closes a consignment: what is ticked in the list leaves with one carrier under one seal.

import { learn } from "./known.js";
import { law, told as ofService } from "./language.js";
import { newEvent, record } from "./queue.js";
import { checkCharacter, grouped, onScan, read } from "./scan.js";
import { post, tell } from "./send.js";
import { signal } from "./signal.js";
import { broken, element, fill, found, kg, line, look, own, part } from "./stop.js";
import { said, standing, stop, stopped } from "./stop.js";

const LATER = [401, 403, 408, 429]; // answers that speak of who or when, and not of what was sent
const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const PATIENCE_MS = 10_000;
const names = JSON.parse(part("leave").dataset.names);
const cargo = part("cargo");
const order = part("order");
/** The consignment as it was sent: sent again, it is the same one. @type {any} */
let sent = null;

/** @returns {HTMLInputElement[]} */
const boxes = () => [...cargo.querySelectorAll("input")];
const ticked = () => boxes().filter((box) => box.checked);

function tally() {
  const leaving = ticked();
  const grams = leaving.reduce((sum, box) => sum + Number(box.dataset.grams ?? 0), 0);
  const unweighed = leaving.filter((box) => box.dataset.grams === undefined).length;
  part("count").textContent = String(leaving.length);
  part("kg").textContent = kg(grams);
  part("unweighed").textContent = unweighed ? fill(said.unweighed, { n: unweighed }) : "";
}

/** @param {string} code */
async function heard(code) {
  const { id, fault } = read(code);
  if (fault) return stop(code, [own("wrong", said[fault], said.faultNext)]);
  const box = boxes().find((one) => one.dataset.id === id);
  if (box?.checked) {
    signal("again");
    return say(said.again, id);
  }
  const known = await look(id);
  const wrong = standing(known);
  if (wrong.length && !(await stop(code, wrong, true))) return say(said.left, id);
  const row = box ?? add(id, code, known);
  row.checked = true;
  row.value = code; // as it was scanned: its tag shows whether the label is ours
  tally();
  signal("good");
  say(said.added, id);
}

/** @param {string} sentence @param {string} id */
function say(sentence, id) {
  part("heard").textContent = fill(sentence, { id: grouped(id) });
}

/** @param {string} id @param {string} code @param {any} known */
function add(id, code, known) {
  const box = document.createElement("input");
  box.type = "checkbox";
  box.value = code;
  box.dataset.id = id;
  const weight = known?.weight_g ?? null;
  if (weight !== null) box.dataset.grams = String(weight);
  const told = document.createElement("span");
  const what = names.categories[known?.category];
  told.append(element("b", "id", grouped(id)), " ", ...(what ? [law(what), " · "] : []));
  told.append(weight === null ? said.noWeight : kg(weight));
  const label = document.createElement("label");
  label.className = "way";
  label.append(box, told);
  const row = document.createElement("li");
  row.append(label);
  cargo.prepend(row);
  return box;
}

/** The number that the service makes of the same id. @param {string} event */
export function consignmentNumber(event) {
  let number = BigInt(`0x${event.replaceAll("-", "")}`) & ((1n << 40n) - 1n);
  let body = "";
  for (let at = 0; at < 8; at++, number >>= 5n) body += ALPHABET[Number(number & 31n)];
  return `C${body}${checkCharacter(body)}`;
}

/** @param {SubmitEvent} event */
async function close(event) {
  event.preventDefault();
  const leaving = ticked();
  if (!leaving.length) return tell(order, said.nothing);
  const filled = new FormData(order);
  const text = (/** @type {string} */ name) => String(filled.get(name) ?? "").trim();
  const fields = {
    containers: leaving.map((box) => box.value),
    carrier: text("carrier"),
    consignee: text("consignee"),
    condition: text("condition"),
    closed: text("closed") === "yes",
    ...(text("vehicle") ? { vehicle: text("vehicle") } : {}),
    ...(text("seal") ? { seal: text("seal") } : {}),
  };
  // What was refused may be put right and sent again: it is then another event.
  const made = newEvent("dispatched", fields);
  sent = { ...made, consignment: consignmentNumber(made.id) };
  const button = order.querySelector("button");
  button.disabled = true;
  try {
    await send();
  } finally {
    button.disabled = false;
  }
}

async function send() {
  let answer;
  try {
    answer = await post("/v1/consignments", sent, AbortSignal.timeout(PATIENCE_MS));
  } catch {
    return keep();
  }
  if (answer.status >= 500 || LATER.includes(answer.status)) return keep();
  if (!answer.ok) {
    signal("stop");
    return tell(order, ofService(answer.body.detail ?? String(answer.status)));
  }
  done(answer.body.consignment, answer.body.outcome.violations, false);
}

/** There is no network, or no answer: the same event waits with the others. */
async function keep() {
  try {
    const { state, reason, violations } = await record(sent);
    if (state === "refused") return tell(order, ofService(reason));
    done(sent.consignment, violations ?? [], state === "waiting");
  } catch (fault) {
    await broken(fault);
  }
}

/** @param {string} number @param {any[]} violations @param {boolean} waits */
function done(number, violations, waits) {
  part("number").textContent = number;
  part("note").href = `/leave/${encodeURIComponent(number)}`;
  part("note").hidden = waits;
  part("kept").hidden = !waits;
  part("closed-count").textContent = part("count").textContent;
  part("closed-kg").textContent = part("kg").textContent;
  part("found").replaceChildren(...together(violations).map(line));
  part("closing").hidden = true;
  part("closed").hidden = false;
  part("closed").focus();
  signal(violations.length ? "stop" : "good");
}

/** The same said of many containers is said once, with how many. @param {any[]} violations */
function together(violations) {
  const told = new Map();
  for (const one of violations.filter((each) => each.standing)) {
    const key = `${one.code} ${one.message}`;
    const before = told.get(key);
    if (before) before.count += 1;
    else told.set(key, { ...found(one), count: 1 });
  }
  return [...told.values()];
}

/** @type {Promise<any>} */
let turn = Promise.resolve();
onScan((code) => {
  if (stopped()) return signal("stop");
  turn = turn.then(() => heard(code)).catch(broken);
});
cargo.addEventListener("change", tally);
order.addEventListener("submit", close);
tally();
void learn();
