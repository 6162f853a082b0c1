// @ts-check
// The stop: what is wrong fills the screen until somebody has seen it. And what tells it.
// Its words stand in the data-said of the page; its place is dialog#stop (stop.html).

import { remembered } from "./known.js";
import { finding, isolated, law, locale, told as ofService } from "./language.js";
import { grouped, read } from "./scan.js";
import { signal } from "./signal.js";

/**
 * @typedef {string | Node | (string | Node)[]} Said
 * @typedef {{severity: string, message: Said, next: Said, clause: string, code: string,
 *   count?: number}} Wrong
 */

export const said = JSON.parse(
  /** @type {HTMLElement} */ (document.querySelector("[data-said]")).dataset.said ?? "{}",
);
const kilograms = new Intl.NumberFormat(locale, {
  minimumFractionDigits: 3,
  maximumFractionDigits: 3,
});

/** @param {string} id @returns {any} */
export const part = (id) => document.getElementById(id);

/** @param {number} grams */
export const kg = (grams) => isolated(`${kilograms.format(grams / 1000)} kg`);

/** @param {string} sentence @param {Record<string, any>} values */
export function fill(sentence, values) {
  return sentence.replace(/\{(\w+)\}/g, (_, name) => isolated(values[name] ?? ""));
}

/** @param {string} tag @param {string} kind @param {(string | Node)[]} parts */
export function element(tag, kind, ...parts) {
  const made = document.createElement(tag);
  made.className = kind;
  made.append(...parts);
  return made;
}

/** What the service found, to be shown once. @param {any} one @returns {Wrong} */
export function found(one) {
  const { severity, clause, code } = one;
  return { severity, message: finding(one), clause, code, next: ofService(one.next_action) };
}

/** What the page itself says. @param {string} severity @param {Said} message @param {Said} next */
export function own(severity, message, next, code = "") {
  return { severity, message, next, clause: "", code };
}

/** @param {Wrong} one */
export function line(one) {
  const row = document.createElement("li");
  const state = element("span", `state ${one.severity}`, said[`is_${one.severity}`] ?? one.severity);
  const times = one.count && one.count > 1 ? ` (${one.count})` : "";
  const why = element("p", "why", ...[one.message].flat(), times);
  row.append(state, why, element("p", "next", ...[one.next].flat()));
  if (one.clause) row.append(element("p", "clause", law(one.clause)));
  return row;
}

/**
 * Stop until somebody has seen it; says whether to go on with the container.
 * @param {string} code @param {Wrong[]} wrongs @param {boolean} [before] whether it is still to choose
 * @returns {Promise<boolean>}
 */
export function stop(code, wrongs, before = false) {
  const box = part("stop");
  const { id, fault } = read(code);
  part("stop-id").textContent = fault ? code.slice(0, 60) : grouped(id);
  part("stop-list").replaceChildren(...wrongs.map(line));
  part("stop-leave").hidden = !before;
  part("stop-seen").textContent = before ? said.take : said.seen;
  part("stop-seen").classList.toggle("quiet", before);
  box.showModal();
  part(before ? "stop-leave" : "stop-seen").focus(); // the safer answer
  signal("stop");
  return new Promise((resolve) => {
    box.addEventListener("close", () => resolve(box.returnValue === "seen"), { once: true });
  });
}

/** The device itself failed: then paper is the record. @param {unknown} fault */
export async function broken(fault) {
  const why = fault instanceof Error ? `${said.notKept} ${fault.message}` : said.notKept;
  await stop("", [own("unsafe", why, said.notKeptNext)]);
}

/** Whether a stop still waits to be seen: nothing that is scanned then is taken. */
export const stopped = () => part("stop").open;

// Escape is no answer.
part("stop").addEventListener("cancel", (/** @type {Event} */ event) => event.preventDefault());
for (const answer of ["seen", "leave"]) {
  part(`stop-${answer}`).addEventListener("click", () => part("stop").close(answer));
}

// --- what is known of a container before anything is done with it

const ASK_MS = 2000; // longer than this nobody waits with a bag in hand
const REST_MS = 30000; // how long not to ask again after no answer came
let restUntil = 0;

/**
 * How it stands and what is wrong, {unknown: true}, or where nobody can be asked what was known of it
 * before, if anything: that one was not on record then says nothing.
 * Lists are asked for: that one is not on record is no fault, and no error on a console.
 * @param {string} id
 */
export async function look(id) {
  if (!navigator.onLine || Date.now() < restUntil) return remembered(id);
  const after = id.slice(0, -1); // the first id after this is it, or it is not on record
  try {
    const [listed, wrong] = await Promise.all([
      ask("/v1/containers", { after, limit: "1" }),
      ask("/v1/violations", { container: id }),
    ]);
    if (!listed || !wrong) return remembered(id);
    const one = listed.containers.find((/** @type {any} */ each) => each.container === id);
    if (!one || (!one.sealed_at && one.state !== "carrying")) return { unknown: true };
    return { ...one, violations: wrong.violations };
  } catch {
    restUntil = Date.now() + REST_MS; // what is not known beforehand is told after the act
    return remembered(id);
  }
}

/** @param {string} door @param {Record<string, string>} asked */
async function ask(door, asked) {
  const answer = await fetch(`${door}?${new URLSearchParams(asked)}`, {
    signal: AbortSignal.timeout(ASK_MS),
  });
  return answer.ok ? answer.json() : null;
}

/** What is wrong with it already. @param {any} known @returns {Wrong[]} */
export function standing(known) {
  if (known?.unknown) return [own("wrong", said.unknown, said.unknownNext)];
  const open = (known?.violations ?? []).filter((/** @type {any} */ one) => one.standing);
  const told = open.map(found);
  const late = known?.due_at && Date.parse(known.due_at) < Date.now();
  if (late && !told.some((/** @type {Wrong} */ one) => one.code === "holding.exceeded")) {
    told.push(own("late", said.late, said.lateNext, "holding.exceeded"));
  }
  return told;
}
