// @ts-check
// A run: each code that is scanned becomes an event at once. What is wrong stops the run until
// somebody has seen it. The plan and the tally outlive a restart of the telephone.

import { kept } from "./kept.js";
import { isolated, law, told as ofService } from "./language.js";
import { newEvent, onChange, record } from "./queue.js";
import { learn } from "./known.js";
import { choose, names, plan, planned, titleOf } from "./plan.js";
import { grouped, onScan, read } from "./scan.js";
import { signal } from "./signal.js";
import { broken, element, fill, found, kg, look, own, part } from "./stop.js";
import { said, standing, stop, stopped } from "./stop.js";

const KEPT = `run:${document.body.dataset.actor}`;

/**
 * @typedef {{id: string, event: string, grams: number | null, category: string | null,
 *   state: string}} Done
 * @typedef {{way: string, fields: Record<string, any>, parent: string | null,
 *   outer: boolean, done: Done[]}} Run
 * @typedef {import("./stop.js").Wrong} Wrong
 * @typedef {{id: string, code: string, known: any, before: Wrong[]}} Inner
 */

/** @type {Run | null} */
let run = null;
/** The bag that waits for the label of its outer bag. @type {Inner | null} */
let inner = null;

function keep() {
  if (run) localStorage.setItem(KEPT, JSON.stringify(run));
  else localStorage.removeItem(KEPT);
}

// --- what this run does

/** @param {SubmitEvent} event */
function begin(event) {
  event.preventDefault();
  run = { ...planned(), parent: null, done: [] };
  keep();
  show();
  signal("good");
  void learn();
}

// --- the run

function show() {
  const going = run !== null;
  part("plan").hidden = going;
  part("round").hidden = !going;
  if (!run) return;
  part("doing").replaceChildren(...titleOf(run));
  tally();
  next();
}

function next() {
  if (!run) return;
  const cart = run.way === "packed";
  part("parent").hidden = !cart;
  part("another").hidden = !cart || !run.parent;
  part("parent-id").textContent = run.parent ? grouped(read(run.parent).id) : "";
  const ask = cart && !run.parent ? said.askParent : inner ? said.askOuter : said.ask;
  part("ask").textContent = ask;
}

function tally() {
  if (!run) return;
  const unweighed = run.done.filter((one) => one.grams === null).length;
  const grams = run.done.reduce((sum, one) => sum + (one.grams ?? 0), 0);
  part("count").textContent = String(run.done.length);
  part("kg").textContent = kg(grams);
  part("unweighed").textContent = unweighed ? fill(said.unweighed, { n: unweighed }) : "";
  part("back").disabled = run.done.length === 0;
  const list = run.done.slice(-12).reverse().map(line);
  part("list").replaceChildren(...list);
}

/** @param {Done} one */
function line(one) {
  const row = document.createElement("li");
  const id = element("span", "id", grouped(one.id));
  const what = element("span", "what", law(names.categories[one.category ?? ""] ?? ""));
  const weight = one.grams === null ? said.noWeight : kg(one.grams);
  row.append(id, what, element("span", "kg", weight));
  if (one.state === "waiting") row.append(element("span", "state late", said.waiting));
  return row;
}

/** @param {(string | Node)[]} sentence */
function say(...sentence) {
  part("heard").replaceChildren(...sentence);
}

/** @param {string} code */
async function heard(code) {
  if (!run) return;
  const { id, fault } = read(code);
  if (fault) return stop(code, [own("wrong", said[fault], said.faultNext)]);
  if (run.way === "packed" && !run.parent) return setParent(code, id);
  if (inner) return bag(inner, code, id);
  if (id === run.parent || run.done.some((one) => one.id === id)) {
    signal("again");
    return say(fill(said.again, { id: grouped(id) }));
  }
  const known = await look(id);
  const before = warnings(run, known);
  if (before.length && !(await stop(id, before, true))) {
    return say(fill(said.left, { id: grouped(id) }));
  }
  if (run.way === "double_bagged" && run.outer) {
    inner = { id, code, known, before };
    signal("good");
    say(isolated(grouped(id)));
    return next();
  }
  await tellOf(id, { containers: [code] }, known, before);
}

/** @param {string} code @param {string} id */
function setParent(code, id) {
  if (!run) return;
  run.parent = code;
  keep();
  signal("good");
  say(fill(said.parentSet, { id: grouped(id) }));
  next();
}

/** @param {Inner} bagged @param {string} outer @param {string} outerId */
async function bag(bagged, outer, outerId) {
  if (bagged.id === outerId) {
    signal("again");
    return say(said.askOuter);
  }
  inner = null;
  next();
  await tellOf(bagged.id, { containers: [bagged.code], outer }, bagged.known, bagged.before);
}

/** @param {string} id @param {Record<string, any>} more @param {any} known @param {Wrong[]} before */
async function tellOf(id, more, known, before) {
  if (!run) return;
  const parent = run.way === "packed" ? { parent: run.parent } : {};
  const event = newEvent(run.way, { ...run.fields, ...parent, ...more });
  const outcome = await record(event);
  if (outcome.state === "refused") return turnedAway(id, outcome.reason);
  const { weight_g: grams = null, category = null } = known ?? {};
  run.done.push({ id, event: event.id, grams, category, state: outcome.state });
  keep();
  tally();
  const what = names.categories[category];
  say(isolated(grouped(id)), ...(what ? [" · ", law(what)] : []));
  if (!(await judge(id, outcome, new Set(before.map((one) => one.code))))) signal("good");
}

/** @param {string} id @param {string} reason */
const turnedAway = (id, reason) => stop(id, [own("wrong", ofService(reason), said.refusedNext)]);

/** Stop for what was not seen before. @param {string} id @param {any} outcome @param {Set<string>} shown */
async function judge(id, outcome, shown) {
  const open = (outcome.violations ?? []).filter((/** @type {any} */ one) => one.standing);
  const fresh = open.map(found).filter((/** @type {Wrong} */ one) => !shown.has(one.code));
  return fresh.length > 0 && stop(id, fresh);
}

// --- what is known of it before it is taken

/** @param {Run} now @param {any} known @returns {Wrong[]} */
function warnings(now, known) {
  const told = standing(known);
  const there = now.fields.from_party;
  if (there && known?.unit && known.unit !== there) {
    const values = { unit: names.places[known.unit] ?? known.unit, there: names.places[there] };
    told.push(own("wrong", fill(said.foreign, values), said.foreignNext, "custody.gap"));
  }
  return told;
}

// --- taking back, ending, beginning again

async function takeBack() {
  const last = run?.done.at(-1);
  if (!run || !last) return;
  const event = newEvent("amended", {
    containers: [last.id],
    supersedes: last.event,
    reason: said.takenBack,
  });
  const { state, reason } = await record(event);
  if (state === "refused") return turnedAway(last.id, reason);
  run.done.pop();
  keep();
  tally();
  say(fill(said.isBack, { id: grouped(last.id) }));
}

function end() {
  part("ended-count").textContent = part("count").textContent;
  part("ended-kg").textContent = part("kg").textContent;
  part("round").hidden = true;
  part("ended").hidden = false;
  part("ended").focus();
  run = null;
  inner = null;
  keep();
}

/** What waited may have been sent by now: its line says so no more; what was turned away goes. */
async function sent() {
  if (!run?.done.some((one) => one.state === "waiting")) return;
  const still = new Map((await kept()).map((each) => [each.event.id, each.back?.state ?? "waiting"]));
  for (const one of run.done) {
    if (one.state === "waiting") one.state = still.get(one.event) ?? "recorded";
  }
  run.done = run.done.filter((one) => one.state !== "refused");
  keep();
  tally();
}

// One after another, as they were scanned: while one is looked at, the next ones wait their turn.
/** @type {Promise<any>} */
let turn = Promise.resolve();
/** @param {() => Promise<any> | void} work */
function inTurn(work) {
  turn = turn.then(work).catch(broken);
}

onScan((code) => {
  if (!run) return;
  if (stopped()) return signal("stop");
  inTurn(() => heard(code));
});
onChange(sent);
plan.addEventListener("change", choose);
plan.addEventListener("submit", begin);
part("back").addEventListener("click", () => inTurn(takeBack));
part("end").addEventListener("click", () => inTurn(end));
part("another").addEventListener("click", () => {
  if (!run) return;
  run.parent = null;
  keep();
  next();
});

run = JSON.parse(localStorage.getItem(KEPT) ?? "null");
choose();
show();
void learn();
