// @ts-check
// Seal a container: its label, what is in it, what it weighs, done.

import { finding, latin, moment, told as ofService } from "./language.js";
import { newEvent, record } from "./queue.js";
import { grouped, onScan, read } from "./scan.js";
import { signal } from "./signal.js";

const UNDO_MS = 60_000;
const PARTS = ["scan", "choose", "weigh", "done"];
const words = /** @type {HTMLElement} */ (document.getElementById("words")).dataset;

let id = "";
let code = "";
let category = "";
/** @type {Record<string, any> | null} */
let last = null;

/** @param {string} name @returns {any} */
const part = (name) => document.getElementById(name);

/** @param {string} name */
function show(name) {
  for (const each of PARTS) part(each).hidden = each !== name;
  for (const place of document.querySelectorAll("[data-id]")) place.textContent = grouped(id);
  if (name === "scan") part("typed").value = "";
  else part(name).focus();
}

// --- its label

onScan((scanned) => {
  if (!part("weigh").hidden || !part("choose").hidden) return;
  const found = read(scanned);
  part("slip").hidden = !found.fault;
  part("slip").textContent = found.fault ? words[found.fault] : "";
  part("slip-near").hidden = found.fault !== "check";
  part("slip-near").querySelector("a").href = `/find?q=${encodeURIComponent(scanned)}`;
  if (found.fault) return signal("stop");
  id = found.id;
  code = scanned.trim();
  signal("again");
  show("choose");
});

const unit = part("unit");
if (unit.tagName === "SELECT") {
  const before = localStorage.getItem("unit");
  if (before && [...unit.options].some((option) => option.value === before)) unit.value = before;
  unit.addEventListener("change", () => localStorage.setItem("unit", unit.value));
}

// --- what is in it

/** @param {string} word */
const kindName = (word) =>
  document.querySelector(`[data-kind-name="${word}"]`)?.textContent ?? word;

/** @param {HTMLElement} button */
function choose(button) {
  const { category: chosen = "", name = "", kinds = "", hub = "" } = button.dataset;
  category = chosen;
  const heading = /** @type {HTMLElement} */ (part("weigh").querySelector("[data-name]"));
  heading.textContent = name;
  part("weigh").querySelector("[data-cautions]").textContent =
    document.querySelector(`[data-cautions-of="${chosen}"]`)?.textContent ?? "";
  part("kind").replaceChildren(...kinds.split(" ").map((word) => new Option(kindName(word), word)));
  part("kind").dataset.hub = hub;
  part("weight").value = "";
  part("fill").value = "0.75";
  part("closed").checked = true;
  part("hub").checked = false;
  askHub();
  show("weigh");
}

function askHub() {
  const { hub = "" } = part("kind").dataset;
  part("hub-line").hidden = !hub.split(" ").includes(part("kind").value);
}

part("kind").addEventListener("change", askHub);
for (const button of document.querySelectorAll("[data-category]")) {
  button.addEventListener("click", () => choose(/** @type {HTMLElement} */ (button)));
}

// --- what it weighs, done

/** Whole grams, or null where nothing was written. @param {string} written */
function grams(written) {
  const plain = latin(written).trim().replace(",", ".").replace(/\s*kg$/i, "");
  if (!plain) return null;
  return /^\d{1,4}(\.\d{1,3})?$/.test(plain) ? Math.round(Number(plain) * 1000) : NaN;
}

/** @param {SubmitEvent} event */
async function seal(event) {
  event.preventDefault();
  const told = part("seal").querySelector(".told");
  const weight = grams(part("weight").value);
  told.hidden = !Number.isNaN(weight);
  told.textContent = told.hidden ? "" : words.weight;
  if (!told.hidden) return;
  const asked = !part("hub-line").hidden;
  const made = newEvent("registered", {
    containers: [code],
    category,
    unit: unit.value,
    container_kind: part("kind").value,
    fill_fraction: part("fill").value,
    closed: part("closed").checked,
    ...(weight !== null && { weight_g: weight }),
    ...(asked && { hub_cut: part("hub").checked }),
  });
  const button = part("seal").querySelector("button");
  button.disabled = true;
  try {
    tell(made, await record(made));
  } catch {
    told.hidden = false;
    told.textContent = words.unkept;
    signal("stop");
  } finally {
    button.disabled = false;
  }
}

/** @param {Record<string, any>} made @param {import("./queue.js").Outcome} outcome */
function tell(made, outcome) {
  if (outcome.state === "refused") {
    const told = part("seal").querySelector(".told");
    told.hidden = false;
    told.replaceChildren(ofService(outcome.reason));
    return signal("stop");
  }
  const waits = outcome.state === "waiting";
  const said = part("done").querySelector("[data-told]");
  said.textContent = `${waits ? words.waiting : words.recorded} ${words.next}`;
  const wrong = outcome.violations.filter((one) => one.standing);
  part("done").querySelector("[data-wrong]").replaceChildren(...wrong.map(line));
  last = made;
  part("done").querySelector("[data-undo]").hidden = false;
  setTimeout(() => forget(made.id), UNDO_MS);
  signal(wrong.length ? "stop" : "good");
  show("done");
  if (!waits) void deadline(said);
}

/** @param {any} one */
function line(one) {
  const made = document.createElement("li");
  const word = document.createElement("span");
  word.className = `state ${one.severity}`;
  const named = document.querySelector(`[data-severity-name="${one.severity}"]`);
  word.textContent = named?.textContent ?? one.severity;
  made.append(word, " ", ...finding(one), ". ", ofService(one.next_action ?? ""));
  return made;
}

/** Say until when it may be kept. @param {HTMLElement} place */
async function deadline(place) {
  const answer = await fetch(`/v1/containers/${id}`).catch(() => null);
  const due = answer?.ok ? (await answer.json()).due_at : null;
  if (due) place.textContent += ` ${words.until} ${moment(due)}.`;
}

/** @param {string} made */
function forget(made) {
  if (last?.id === made) part("done").querySelector("[data-undo]").hidden = true;
}

part("seal").addEventListener("submit", seal);
part("done").querySelector("[data-again]").addEventListener("click", () => show("scan"));
part("done").querySelector("[data-undo]").addEventListener("click", async () => {
  if (!last) return;
  const back = { containers: [id], supersedes: last.id, reason: words.takenBack };
  const { state, reason } = await record(newEvent("amended", back));
  const said = state === "refused" ? ofService(reason) : (words.isBack ?? "");
  part("done").querySelector("[data-told]").replaceChildren(said);
  part("done").querySelector("[data-undo]").hidden = true;
  last = null;
});
for (const button of document.querySelectorAll("[data-back]")) {
  button.addEventListener("click", () => show("scan"));
}
