// @ts-check
// The language of the page: times in it, what the service says in English within it, another one.

const COOKIE = "__Host-custody-language";
const YEAR_S = 365 * 24 * 3600;
const root = document.documentElement;
const english = root.lang === "en";
const fromRight = root.dir === "rtl";

/** What the service says in English, in the language of the page. @type {Record<string, string>} */
const known = JSON.parse(document.getElementById("service")?.dataset.translated ?? "{}");

/** Letters of the language, figures as scales and labels write them. */
export const locale = `${root.lang}-u-nu-latn`;

/** Points from what is read first to what is read next. */
export const arrow = fromRight ? "←" : "→";

const times = new Intl.DateTimeFormat(locale, {
  day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit",
  hourCycle: "h23", timeZone: document.body.dataset.zone,
});

/** An instant in the facility's own time, to the minute. @param {string} at */
export const moment = (at) => times.format(new Date(at));

const clock = new Intl.DateTimeFormat("en-u-nu-latn", {
  year: "numeric", month: "numeric", day: "numeric", hour: "numeric", minute: "numeric",
  second: "numeric", hourCycle: "h23", timeZone: document.body.dataset.zone,
});

/** By how much the facility's clock is ahead of UTC. @param {number} at */
function ahead(at) {
  const shown = Object.fromEntries(clock.formatToParts(at).map((each) => [each.type, Number(each.value)]));
  const { year, month, day, hour, minute, second } = shown;
  return Date.UTC(year, month - 1, day, hour, minute, second) - Math.floor(at / 1000) * 1000;
}

/**
 * The instant at which the facility's clock shows this, wherever the device stands.
 * @param {string} shown as a field of a form has it: 2026-07-31T20:00
 */
export function instant(shown) {
  const read = Date.parse(`${shown}Z`);
  if (Number.isNaN(read)) return new Date(read);
  // Asked twice: the first answer may lie beyond the hour at which the clock is set.
  const near = read - ahead(read);
  return new Date(read - ahead(near));
}

/** A text that keeps its own direction inside a sentence (UAX #9, section 2.4.3). @param {any} text */
export const isolated = (text) => (fromRight ? `\u2068${text}\u2069` : String(text));

/** @param {string} tag @param {string} text */
function marked(tag, text) {
  const made = document.createElement(tag);
  made.textContent = text;
  return made;
}

const FIGURES = ["٠١٢٣٤٥٦٧٨٩", "۰۱۲۳۴۵۶۷۸۹", "०१२३४५६७८९"];

/** What was typed with the figures of the language, in those of labels. @param {string} typed */
export function latin(typed) {
  const at = (/** @type {string} */ c) => FIGURES.map((row) => row.indexOf(c)).find((n) => n >= 0);
  return typed.replace(/[٠-٩۰-۹०-९]/g, (c) => String(at(c))).replace("٫", ".");
}

/** A text in English, marked as that: law, or what nobody translated. @param {string} text */
export function law(text) {
  if (english || !text) return document.createTextNode(text);
  const made = marked("span", text);
  made.lang = "en";
  made.dir = "ltr";
  return made;
}

/** A name of the facility's. @param {string} name */
export function own(name) {
  return english ? document.createTextNode(name) : marked("bdi", name);
}

/** A sentence of the service's: translated where the page has it, else English. @param {string} text */
export function told(text) {
  return text in known ? document.createTextNode(known[text]) : law(text);
}

/**
 * What is wrong: the sentence with its figures, in other languages after the name of the rule.
 * @param {{code: string, message: string}} violation
 */
export function finding({ code, message }) {
  const name = english || !(code in known) ? [] : [`${known[code]}: `];
  return [...name, law(message)];
}

for (const button of /** @type {NodeListOf<HTMLElement>} */ (
  document.querySelectorAll("button[data-language]")
)) {
  button.addEventListener("click", () => {
    const chosen = `${COOKIE}=${button.dataset.language}`;
    document.cookie = `${chosen}; Path=/; Secure; SameSite=Lax; Max-Age=${YEAR_S}`;
    location.reload();
  });
}
