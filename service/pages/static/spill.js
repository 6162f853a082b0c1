// @ts-check
// Takes down a spill or an injury.

import { latin, told as ofService } from "./language.js";
import { newEvent, record } from "./queue.js";
import { onScan } from "./scan.js";

const form = /** @type {HTMLFormElement} */ (document.getElementById("incident"));
/** @param {string} name @returns {any} */
const field = (name) => document.getElementById(name);

onScan((code) => {
  field("container").value = code;
});

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const code = field("container").value.trim();
  const made = newEvent("spilled", {
    containers: code ? [code] : [],
    people_exposed: Number(latin(field("exposed").value)) || 0,
    action_taken: field("action").value,
  });
  const { state, reason } = await record(made);
  const told = /** @type {HTMLElement} */ (form.querySelector(".told"));
  const done = /** @type {HTMLElement} */ (form.querySelector(".done"));
  told.hidden = state !== "refused";
  told.replaceChildren(state === "refused" ? ofService(reason) : "");
  done.hidden = state === "refused";
  done.textContent = (state === "waiting" ? done.dataset.waiting : done.dataset.recorded) ?? "";
  if (state !== "refused") form.reset();
});
