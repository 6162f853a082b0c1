// @ts-check
// The register of machines: a spore test is recorded with what its certificate says.
import { instant } from "./language.js";
import { newEvent, record } from "./queue.js";
import { part, say } from "./told.js";

document.addEventListener("submit", async (/** @type {any} */ event) => {
  const form = event.target;
  if (!form.matches("form.spore")) return;
  event.preventDefault();
  const filled = new FormData(form, event.submitter);
  const text = (/** @type {string} */ name) => String(filled.get(name) ?? "").trim();
  const said = {
    containers: [],
    machine: form.closest("[data-machine]").dataset.machine,
    grew: text("grew") === "true",
    occurred_at: instant(text("ran")).toISOString(),
    ...(text("lot") && { lot: text("lot") }),
    ...(text("population") && { population: text("population") }),
    ...(text("d_value_min") && { d_value_min: text("d_value_min").replace(",", ".") }),
  };
  const outcome = await record(newEvent("spore_tested", said));
  if (outcome.state === "refused") return say(part("fault"), outcome.reason ?? "");
  location.reload();
});
