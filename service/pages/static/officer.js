// @ts-check
// What the officer and the administrator do: fetch a paper and keep it, have a bundle checked,
// let people, devices and programs in and out. Secrets are shown once and held nowhere.

import { instant, law, told } from "./language.js";
import { tell } from "./send.js";

/** Send something and give the answer; a fault is told in the place for it. */
async function asked(place, address, said) {
  tell(place, "");
  let answer;
  try {
    answer = await fetch(address, said);
  } catch {
    tell(place, document.body.dataset.offline);
    return null;
  }
  if (answer.ok) return answer;
  const body = await answer.json().catch(() => ({}));
  tell(place, told(body.detail ?? String(answer.status)));
  return null;
}

/** Show or hide how it goes. */
function goes(place, sentence) {
  const status = place.querySelector(".done");
  status.textContent = sentence;
  status.hidden = !sentence;
}

/** Fetch a file in the form that is asked for, and have the browser keep it. */
async function save(button) {
  const place = button.closest("section");
  const { save: address, accept, name } = button.dataset;
  const said = place.querySelector(".done").dataset;
  goes(place, said.waiting);
  const answer = await asked(place, address, { headers: { Accept: accept } });
  if (!answer) return goes(place, "");
  const link = document.createElement("a");
  link.href = URL.createObjectURL(await answer.blob());
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  goes(place, `${said.saved} ${name}`);
}

const STATES = { holds: "good", warning: "late", fails: "wrong", "not checked": "lost" };

function cell(row, kind, content) {
  const made = document.createElement(kind);
  made.append(content);
  row.append(made);
  return made;
}

/** Show every check of a bundle, those that fail first. */
function showChecks(found) {
  const part = document.getElementById("checked");
  const words = part.dataset;
  const word = (outcome) => words[outcome === "not checked" ? "unknown" : outcome] ?? outcome;
  const body = part.querySelector("tbody");
  body.replaceChildren();
  const order = ["fails", "warning", "not checked", "holds"];
  const sorted = [...found.checks].sort(
    (a, b) => order.indexOf(a.outcome) - order.indexOf(b.outcome),
  );
  for (const check of sorted) {
    const row = document.createElement("tr");
    const state = document.createElement("span");
    state.className = `state ${STATES[check.outcome]}`;
    state.textContent = word(check.outcome);
    cell(row, "td", state);
    cell(row, "th", law(check.name)).scope = "row";
    cell(row, "td", law(check.said)).className = "breaks";
    body.append(row);
  }
  const head = part.querySelector("h3");
  head.textContent = found.counts.fails ? words.bad : words.good;
  part.querySelector(".counted").textContent = order
    .filter((outcome) => found.counts[outcome])
    .map((outcome) => `${found.counts[outcome]} ${word(outcome)}`)
    .join(", ");
  part.hidden = false;
  head.focus();
}

async function verify(form) {
  const [file] = form.querySelector("input[type=file]").files;
  const key = form.querySelector("select").value;
  document.getElementById("checked").hidden = true;
  goes(form, form.querySelector(".done").dataset.waiting);
  const answer = await asked(form, `${form.dataset.verify}?key=${key}`, {
    method: "POST",
    headers: { "Content-Type": "application/zip", Accept: "application/json" },
    body: file,
  });
  goes(form, "");
  if (answer) showChecks(await answer.json());
}

/** Read a form: names with a dot are parts of a part, checked boxes of one name are a list. */
function read(form) {
  const said = {};
  for (const field of form.elements) {
    if (!field.name || field.value === "") continue;
    const [name, inner] = field.name.split(".");
    const list = inner && ((said[name] ??= {})[inner] ??= []);
    if (field.type === "checkbox" && !field.checked) continue; // none chosen is said, too
    if (list) list.push(field.value);
    else if ("endOfDay" in field.dataset) said[name] = endOfDay(field.value);
    else said[name] = field.type === "number" ? Number(field.value) : field.value;
  }
  return said;
}

/** When a day of the facility ends. @param {string} day */
function endOfDay(day) {
  const next = new Date(`${day}T00:00Z`);
  next.setUTCDate(next.getUTCDate() + 1);
  return instant(next.toISOString().slice(0, 16)).toISOString();
}

/** Show what is given once; the page is read anew when it is closed. */
function showOnce(given) {
  const dialog = document.getElementById("once");
  const list = dialog.querySelector("dl");
  list.replaceChildren();
  const flat = given.activation?.activation
    ? { person: given.activation.person, activation: given.activation.activation }
    : given;
  for (const name of ["person", "name", "activation", "badge", "first_pin", "code", "token"]) {
    if (typeof flat[name] !== "string") continue;
    cell(list, "dt", list.getAttribute(`data-${name}`));
    cell(list, "dd", flat[name]).className = "id breaks";
  }
  dialog.addEventListener("close", () => {
    list.replaceChildren();
    location.reload();
  });
  dialog.showModal();
}

const isSecret = (given) =>
  ["activation", "badge", "code", "token"].some((name) => given[name] !== undefined);

async function act(button) {
  const { act: door, method, ask, body } = button.dataset;
  if (ask && !confirm(ask)) return;
  await ordered(button.closest("details"), door, method, body);
}

async function ordered(place, door, method, body) {
  const headers = { Accept: "application/json" };
  if (body) headers["Content-Type"] = "application/json";
  const answer = await asked(place, door, { method, headers, body });
  if (!answer) return;
  const given = await answer.json();
  if (isSecret(given)) showOnce(given);
  else location.reload();
}

/** Do something once at a time. */
async function busy(button, work) {
  button.disabled = true;
  try {
    await work();
  } finally {
    button.disabled = false;
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.save) busy(button, () => save(button));
  if (button.dataset.act) busy(button, () => act(button));
  if ("close" in button.dataset) button.closest("dialog").close();
});

document.addEventListener("submit", (event) => {
  const form = event.target;
  const { verify: bundles, order } = form.dataset;
  if (!bundles && !order) return;
  event.preventDefault();
  busy(form.querySelector("button"), () =>
    bundles
      ? verify(form)
      : ordered(form, order, form.dataset.method ?? "POST", JSON.stringify(read(form))),
  );
});
