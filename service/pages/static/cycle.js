// @ts-check
// A cycle's page: a logger's file is dropped and sent, what was seen of the load is recorded.
import { newEvent, record } from "./queue.js";
import { part, say, wordsOf } from "./told.js";

const evidence = document.getElementById("evidence");

/** @param {HTMLElement} evidence */
function listen(evidence) {
  const word = wordsOf(evidence);
  const cycle = evidence.dataset.cycle ?? "";

  /** Send the bytes as they are: nothing is read or repaired on the way. @param {FileList | null | undefined} files */
  async function send(files) {
    say(part("fault"), "");
    if (!files?.length) return;
    if (files.length > 1) return say(part("fault"), word("one"));
    part("heard").textContent = word("sending");
    const type = files[0].name.toLowerCase().endsWith(".json") ? "application/json" : "text/csv";
    try {
      const answer = await fetch(`/v1/cycles/${encodeURIComponent(cycle)}/trace`, {
        method: "PUT",
        headers: { "Content-Type": type, Accept: "application/json" },
        body: files[0],
      });
      const body = await answer.json().catch(() => ({}));
      if (answer.ok) return location.reload();
      say(part("fault"), body.detail ?? String(answer.status));
    } catch {
      say(part("fault"), word("offline"));
    }
    part("heard").textContent = "";
    part("file").value = "";
  }

  /** @param {string} kind @param {Record<string, any>} said */
  async function tell(kind, said) {
    const outcome = await record(newEvent(kind, { containers: [], cycle, ...said }));
    if (outcome.state === "refused") return say(part("fault"), outcome.reason ?? "");
    location.reload();
  }

  part("file").addEventListener("change", () => send(part("file").files));
  evidence.addEventListener("dragover", (event) => {
    event.preventDefault();
    part("drop").classList.add("over");
  });
  evidence.addEventListener("dragleave", () => part("drop").classList.remove("over"));
  evidence.addEventListener("drop", (event) => {
    event.preventDefault();
    part("drop").classList.remove("over");
    send(event.dataTransfer?.files);
  });
  evidence.addEventListener("click", (/** @type {any} */ event) => {
    const { indicator, wet } = event.target.dataset;
    if (indicator) tell("indicator_read", { turned: indicator === "true" });
    if (wet) tell("load_observed", { wet: wet === "true" });
  });
  evidence.dataset.ready = "";
}

if (evidence) listen(evidence);
