// @ts-check
// Puts a load together: each scan is looked up; what may go in is on the load, what may not is held
// back with the reason. It is recorded all the same if it really happened: that takes a press more.
import { instant } from "./language.js";
import { newEvent, record } from "./queue.js";
import { grouped, onScan, read } from "./scan.js";
import { fetched, hear, part, say, showOutcome, wordsOf } from "./told.js";

const AT_ONCE = 50; // containers asked about in one request
const form = part("loading");
const word = wordsOf(form);
const heard = part("heard");

/** @returns {HTMLElement[]} */
const on = () => [...part("on").children];
/** @returns {HTMLElement[]} */
const held = () => [...part("held").children];
const codeOf = (/** @type {HTMLElement} */ row) => row.dataset.asked ?? "";

function counted() {
  part("count").textContent = String(on().length);
  part("held-count").textContent = String(held().length);
  part("held-part").hidden = !held().length;
}

/** Look codes up, and put each where it belongs. @param {string[]} codes */
async function lookUp(codes) {
  for (let at = 0; at < codes.length; at += AT_ONCE) {
    const these = codes.slice(at, at + AT_ONCE);
    const asked = new URLSearchParams({ step: part("step").value, party: part("party").value });
    for (const code of these) asked.append("code", code);
    const found = await fetched("/load/check", asked);
    these.forEach((code, i) => place(found?.[i] ?? unchecked(code)));
  }
  counted();
}

/** @param {any} row */
function place(row) {
  if ("fault" in row.dataset) return hear(heard, row.textContent, "stop");
  const id = grouped(row.dataset.container);
  const fits = row.dataset.fits !== "no";
  part(fits ? "on" : "held").prepend(row);
  hear(heard, word(fits ? "on" : "held", { id }), fits ? "good" : "stop");
}

/** A row for what could not be looked up. @param {string} code */
function unchecked(code) {
  const row = part("unchecked").content.firstElementChild.cloneNode(true);
  row.dataset.asked = code;
  row.dataset.container = read(code).id;
  row.querySelector("[data-id]").textContent = grouped(read(code).id);
  return row;
}

const waiting = new Set();

onScan(async (code) => {
  const { id, fault } = read(code);
  if (fault) return hear(heard, word(fault), "stop");
  if (!part("step").value) return hear(heard, word("first"), "stop");
  const known = [...on(), ...held()].some((row) => row.dataset.container === id);
  if (known || waiting.has(id)) return hear(heard, word("again", { id: grouped(id) }), "again");
  waiting.add(id);
  part("outcome").hidden = true;
  await lookUp([code]);
  waiting.delete(id);
});

/** Another step or place: everything is looked at anew, and nothing is insisted on any more. */
async function anew() {
  const codes = [...on(), ...held()].map(codeOf).reverse();
  part("on").replaceChildren();
  part("held").replaceChildren();
  counted();
  if (part("step").value) await lookUp(codes);
}

/** What is told of the run: the machine, its start, and what is known of the weight of its load. */
function run(/** @type {string} */ machine) {
  const grams = on().map((row) => Number(row.dataset.grams ?? 0));
  const load = grams.every((g) => g > 0) ? { load_g: grams.reduce((all, g) => all + g, 0) } : {};
  return { machine, started_at: instant(part("started").value).toISOString(), ...load };
}

/** The trace comes next: show where it is attached. @param {string} cycle */
function pointTo(cycle) {
  const place = part("to-cycle");
  place.querySelector("span").textContent = word("to");
  place.querySelector("a").textContent = cycle;
  place.querySelector("a").href = `/cycles/${encodeURIComponent(cycle)}`;
  place.hidden = false;
}

async function recordLoad() {
  say(part("fault"), "");
  const containers = on().map(codeOf).reverse();
  if (!containers.length) return say(part("fault"), word("nothing"));
  const cycle = part("cycle").value.trim();
  if (!cycle) {
    say(part("fault"), word("cycle"));
    return part("cycle").focus();
  }
  const machine = document.getElementById("which") ? part("which").value : "";
  if (machine && !(instant(part("started").value) < new Date())) {
    say(part("fault"), word("started"));
    return part("started").focus();
  }
  const button = part("record");
  button.disabled = true;
  try {
    const same = { step: part("step").value, party: part("party").value, cycle };
    const told = { containers: [], ...same, ...(machine && run(machine)) };
    const ran = machine ? await record(newEvent("cycle_run", told)) : null;
    if (ran?.state === "refused") return say(part("fault"), ran.reason);
    const outcome = await record(newEvent("treated", { containers, ...same }));
    if (outcome.state !== "refused") {
      part("on").replaceChildren();
      part("cycle").value = "";
      counted();
    }
    showOutcome(part("outcome"), word, [{ ...outcome, count: containers.length }]);
    if (ran?.state === "recorded") pointTo(cycle);
  } catch (error) {
    say(part("fault"), `${word("notKept")} ${error}`);
  } finally {
    button.disabled = false;
  }
}

form.addEventListener("submit", (/** @type {Event} */ event) => event.preventDefault());
part("step").addEventListener("change", anew);
part("party").addEventListener("change", anew);
part("record").addEventListener("click", recordLoad);
form.addEventListener("click", (/** @type {any} */ event) => {
  const row = event.target.closest(".arrival");
  if (event.target.matches("[data-remove]")) row.remove();
  else if (event.target.matches("[data-insist]")) {
    event.target.closest(".insist").remove();
    part("on").prepend(row);
  } else return;
  part("scanned").focus();
  counted();
});
counted();
form.dataset.ready = ""; // from now on scans and presses are heard
