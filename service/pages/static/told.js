// @ts-check
// What pages that record several events at once have in common: the words the page gave, parts of
// pages fetched from the service, and what became of what was sent.

import { finding, isolated, told } from "./language.js";
import { grouped } from "./scan.js";
import { signal } from "./signal.js";

/** @param {string} id @returns {any} */
export const part = (id) => document.getElementById(id);

/** The words of a page, with names in braces put in. @param {HTMLElement} form */
export function wordsOf(form) {
  const words = JSON.parse(form.dataset.said ?? "{}");
  return (/** @type {string} */ name, /** @type {Record<string, any>} */ put = {}) =>
    Object.entries(put).reduce(
      (text, [k, v]) => text.replace(`{${k}}`, isolated(v)),
      words[name],
    );
}

/** Show a sentence, or hide its place. @param {HTMLElement} place @param {string} sentence */
export function say(place, sentence) {
  place.textContent = sentence;
  place.hidden = !sentence;
}

/**
 * Say what a scan came to, by word and by sound.
 * @param {HTMLElement} place @param {string} sentence @param {"good" | "again" | "stop"} how
 */
export function hear(place, sentence, how) {
  say(place, sentence);
  place.classList.toggle("not", how === "stop");
  signal(how);
}

/**
 * A part of a page, or null where the service cannot be reached or does not answer with one.
 * @param {string} address @param {URLSearchParams} asked
 * @returns {Promise<Element[] | null>}
 */
export async function fetched(address, asked) {
  if (!navigator.onLine) return null;
  try {
    const answer = await fetch(`${address}?${asked}`);
    if (!answer.ok || answer.redirected) return null;
    const held = document.createElement("template");
    held.innerHTML = await answer.text(); // written by the service, which escapes what it shows
    return [...held.content.children];
  } catch {
    return null; // no connection: the person is told, and goes on
  }
}

/**
 * Show what became of events.
 * @param {HTMLElement} place @param {(name: string, put?: Record<string, any>) => string} word
 * @param {{state: string, reason?: string, violations?: any[], count: number}[]} became
 */
export function showOutcome(place, word, became) {
  const sum = (/** @type {string[]} */ states) =>
    became.filter((b) => states.includes(b.state)).reduce((all, b) => all + b.count, 0);
  const list = /** @type {HTMLElement} */ (place.querySelector("ul"));
  list.replaceChildren();
  for (const [selector, name, n] of [
    ["[data-recorded]", "recorded", sum(["recorded", "repeated"])],
    ["[data-waiting]", "waiting", sum(["waiting"])],
  ]) {
    const line = /** @type {HTMLElement} */ (place.querySelector(String(selector)));
    say(line, n ? word(String(name), { n }) : "");
  }
  for (const one of became) {
    if (one.state === "refused") list.append(item("", [`${word("refused")} `, told(one.reason ?? "")]));
    for (const v of one.violations ?? []) {
      const grade = String(v.severity);
      const what = [`${isolated(grouped(v.container))} `, ...finding(v), `. ${word("next")} `];
      const name = word(`is${grade[0].toUpperCase()}${grade.slice(1)}`);
      list.append(item(grade, [...what, told(v.next_action)], name));
    }
  }
  place.hidden = false;
  place.focus();
}

/** @param {string} grade @param {(Node | string)[]} parts @param {string} [name] */
function item(grade, parts, name) {
  const made = document.createElement("li");
  if (name) {
    const state = document.createElement("span");
    state.className = `state ${grade}`;
    state.textContent = name;
    made.append(state, " ");
  } else made.className = "told";
  made.append(...parts);
  return made;
}
