// Sends the forms of a page to the JSON doors, and tells what they answer.
// A form names its door in data-door, and in data-to the page that follows.

import { latin, told } from "./language.js";

export async function post(door, content, signal) {
  const answer = await fetch(door, {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json", ...clock() },
    signal,
    body: JSON.stringify(content),
  });
  const body = await answer.json().catch(() => ({}));
  return { status: answer.status, ok: answer.ok, body };
}

/** The device's own time, for doors that keep how far it is off. */
const clock = () => ({ "Custody-Device-Time": new Date().toISOString() });

/** Tell a sentence of the page's, or a part of it that is made already. */
export function tell(form, sentence) {
  const place = form.querySelector(".told");
  place.replaceChildren(sentence);
  place.hidden = !sentence;
}

function said(form) {
  const figures = (name) => form.elements.namedItem(name)?.inputMode === "numeric";
  const filled = [...new FormData(form)]
    .filter(([, value]) => value !== "")
    .map(([name, value]) => [name, figures(name) ? latin(value) : value]);
  return Object.fromEntries(filled);
}

function show(id, body) {
  const part = document.getElementById(id);
  for (const place of part.querySelectorAll("[data-said]")) {
    place.textContent = body[place.dataset.said];
  }
  for (const place of part.querySelectorAll("[data-said-href]")) {
    place.href = body[place.dataset.saidHref];
  }
  part.hidden = false;
}

async function submit(event) {
  const form = event.target;
  if (!form.dataset.door) return;
  event.preventDefault();
  const button = form.querySelector("button");
  button.disabled = true;
  try {
    const { status, ok, body } = await post(form.dataset.door, said(form));
    for (const part of form.querySelectorAll("[data-when]")) {
      if (part.dataset.when === String(status)) part.hidden = false;
    }
    if (!ok) return tell(form, told(body.detail ?? String(status)));
    tell(form, "");
    if (form.dataset.show) return show(form.dataset.show, body);
    if (form.dataset.to) location.assign(form.dataset.to);
  } catch {
    tell(form, document.body.dataset.offline);
  } finally {
    button.disabled = false;
  }
}

document.addEventListener("submit", submit);
