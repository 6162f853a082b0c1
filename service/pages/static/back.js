// @ts-check
// What waits and what came back, at the top of every page of somebody who is signed in.

import { finding, isolated, moment, told } from "./language.js";
import { grouped, read } from "./scan.js";

/** @typedef {import("./kept.js").Kept} Kept */

/** @param {string} id @returns {any} */
const part = (id) => document.getElementById(id);

/**
 * @param {number} mine what goes out while this person is signed in
 * @param {number} others what waits for who made it
 * @param {string} hindered why nothing is sent, as it is named in the page
 */
export function showUnsent(mine, others, hindered) {
  const line = part("unsent");
  if (!line) return;
  const said = [];
  if (mine) said.push(`${mine} ${line.dataset[hindered || "words"]}`);
  if (others) said.push(`${others} ${line.dataset.others}`);
  line.hidden = !said.length;
  line.textContent = said.join(" · ");
}

/**
 * Show what was turned away, and what was found of what was recorded.
 * @param {Kept[]} back @param {(some: Kept[]) => void} seen
 */
export function showBack(back, seen) {
  fill(
    part("turned-away"),
    back
      .filter((each) => each.back?.state === "refused")
      .map((each) => row([told(each.back?.reason ?? "")], "", [each], () => seen([each]))),
  );
  const after = back.filter((each) => each.back?.state !== "refused");
  fill(part("came-back"), findings(after), () => seen(after));
}

/** @param {HTMLElement | null} place @param {Node[]} rows @param {() => void} [all] */
function fill(place, rows, all) {
  if (!place) return;
  place.hidden = !rows.length;
  /** @type {HTMLElement} */ (place.querySelector("ul")).replaceChildren(...rows);
  const button = /** @type {HTMLButtonElement | null} */ (place.querySelector(":scope > button"));
  if (button && all) button.onclick = all;
}

/** The same found of many containers is said once, with all of them. @param {Kept[]} after */
function findings(after) {
  /** @type {Map<string, {one: any, of: Kept[]}>} */
  const said = new Map();
  for (const each of after) {
    for (const one of (each.back?.violations ?? []).filter((any) => any.standing)) {
      const key = `${one.code} ${one.message}`;
      const before = said.get(key) ?? { one, of: [] };
      before.of.push({ ...each, event: { ...each.event, containers: [one.container] } });
      said.set(key, before);
    }
  }
  return [...said.values()].map(({ one, of }) => {
    const made = row(finding(one), one.next_action ?? "", of);
    const words = JSON.parse(part("came-back").dataset.is);
    const state = document.createElement("span");
    state.className = `state ${one.severity}`;
    state.textContent = words[one.severity] ?? one.severity;
    made.prepend(state);
    return made;
  });
}

/** @param {(string | Node)[]} why @param {string} next @param {Kept[]} of @param {() => void} [seen] */
function row(why, next, of, seen) {
  const made = document.createElement("li");
  const codes = of.flatMap((each) => each.event.containers ?? []);
  const ids = [...new Set(codes.map(named))];
  const at = of.map((each) => each.event.occurred_at).sort()[0];
  made.append(paragraph("why", ...why));
  if (next) made.append(paragraph("next", told(next)));
  const shown = ids.slice(0, 12);
  const more = ids.length > shown.length ? `+ ${ids.length - shown.length}` : "";
  const kinds = JSON.parse(part("turned-away").dataset.kinds ?? "{}");
  const what = of.length === 1 ? (kinds[of[0].event.kind] ?? of[0].event.kind) : "";
  made.append(paragraph("of", [what, ...shown.map(isolated), more, moment(at)].filter(Boolean).join(" · ")));
  if (seen) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = part("turned-away").dataset.seen ?? "";
    button.addEventListener("click", seen);
    made.append(button);
  }
  return made;
}

/** @param {string} code */
function named(code) {
  const { id, fault } = read(String(code));
  return fault ? String(code).slice(0, 60) : grouped(id);
}

/** @param {string} kind @param {(string | Node)[]} text */
function paragraph(kind, ...text) {
  const made = document.createElement("p");
  made.className = kind;
  made.append(...text);
  return made;
}
