// @ts-check
// Counts a consignment in: what came is scanned or ticked; the service says what would be flagged;
// the differences are shown; only then is it recorded that it was taken over, or turned away.
import { isolated, latin } from "./language.js";
import { newEvent, record } from "./queue.js";
import { grouped, onScan, read } from "./scan.js";
import { fetched, hear, part, say, showOutcome, wordsOf } from "./told.js";

const AT_ONCE = 50; // containers asked about in one request
const form = part("receipt");
const word = wordsOf(form);
const heard = part("heard");

/** @returns {HTMLElement[]} */
const rows = () => [...part("rows").children];
const box = (/** @type {HTMLElement} */ row) =>
  /** @type {HTMLInputElement | null} */ (row.querySelector("[data-came]"));
const open = () => rows().filter((row) => box(row));
const came = () => open().filter((row) => box(row)?.checked);
const idOf = (/** @type {HTMLElement} */ row) => row.dataset.container ?? "";
const codeOf = (/** @type {HTMLElement} */ row) => row.dataset.code ?? idOf(row);

/** Grams typed in a row; 0 where none were, NaN where they cannot be read. */
function gramsOf(/** @type {HTMLElement} */ row) {
  const field = /** @type {HTMLInputElement} */ (row.querySelector("[data-weight]"));
  const text = latin(field.value).trim().replace(",", ".").replace(/\s*kg$/i, "");
  if (!text) return 0;
  return /^\d{1,4}(\.\d{1,3})?$/.test(text) ? Math.round(Number(text) * 1000) : Number.NaN;
}

function seal() {
  const intact = form.elements.namedItem("intact").value;
  return {
    ...(part("seal").value.trim() && { seal: part("seal").value.trim() }),
    ...(intact && { seal_intact: intact === "true" }),
  };
}

function changed() {
  const extras = came().filter((row) => row.matches(".extra")).length;
  part("count").textContent = String(came().length - extras);
  part("extras").textContent = extras ? isolated(`+ ${extras}`) : "";
  part("differences").hidden = true;
  say(part("fault"), "");
}

// --- scans

/** @param {string} code */
async function scanned(code) {
  const { id, fault } = read(code);
  if (fault) return hear(heard, word(fault), "stop");
  const inside = open().filter((row) => row.dataset.parent === id);
  const row = rows().find((one) => idOf(one) === id);
  if (row) {
    if (!box(row)) return hear(heard, word("over", { id: grouped(id) }), "again");
    if (box(row)?.checked) return hear(heard, word("again", { id: grouped(id) }), "again");
    row.dataset.code = code;
    tick([row]);
  } else if (inside.length) {
    for (const one of inside) one.dataset.by = code;
    tick(inside);
  } else {
    tick([extra(id, code)]);
    return hear(heard, word("extra", { id: grouped(id) }), "stop");
  }
  hear(heard, word("counted", { id: grouped(id) }), "good");
}

/** @param {HTMLElement[]} some */
function tick(some) {
  for (const row of some) /** @type {HTMLInputElement} */ (box(row)).checked = true;
  changed();
  check(some);
}

/** A container that is not on the list. @param {string} id @param {string} code */
function extra(id, code) {
  const row = part("extra").content.firstElementChild.cloneNode(true);
  row.dataset.container = id;
  row.dataset.code = code;
  row.querySelector("[data-id]").textContent = grouped(id);
  part("rows").prepend(row);
  return row;
}

// --- what the service would flag

/** Ask about rows, and show what it says in each. @param {HTMLElement[]} some */
async function check(some) {
  for (let at = 0; at < some.length; at += AT_ONCE) {
    const these = some.slice(at, at + AT_ONCE);
    const asked = new URLSearchParams({
      consignment: form.dataset.consignment,
      party: part("party").value || "-",
      ...(part("scale").value && { scale: part("scale").value }),
      ...Object.fromEntries(Object.entries(seal()).map(([k, v]) => [k, String(v)])),
    });
    for (const row of these) {
      asked.append("code", codeOf(row));
      asked.append("weight_g", String(gramsOf(row) || 0));
    }
    const found = await fetched("/receive/check", asked);
    these.forEach((row, i) => {
      const place = /** @type {HTMLElement} */ (row.querySelector("[data-findings]"));
      row.dataset.checked = found ? "yes" : "no";
      place.replaceChildren(...(found?.[i] ? [found[i]] : []));
      if (Number.isNaN(gramsOf(row))) place.append(sentence(word("weight")));
    });
  }
}

/** @param {string} text */
function sentence(text) {
  const made = document.createElement("p");
  made.className = "told";
  made.dataset.unread = "";
  made.textContent = text;
  return made;
}

// --- differences

/** @param {string} name @param {(Node | string)[]} lines */
function differ(name, lines) {
  const place = part("differences").querySelector(`[data-difference="${name}"]`);
  const count = place.querySelector("output");
  if (count) count.textContent = String(lines.length);
  place.querySelector("ul").replaceChildren(
    ...lines.map((line) => {
      const made = document.createElement("li");
      made.append(line);
      return made;
    }),
  );
  place.hidden = !lines.length;
  return lines.length;
}

/** @param {HTMLElement} row */
const named = (row) => grouped(idOf(row));

async function compare() {
  const here = came();
  await check(here);
  const unread = here.find((row) => Number.isNaN(gramsOf(row)));
  if (unread) {
    say(part("fault"), word("weight"));
    return unread.querySelector("input[data-weight]").focus();
  }
  const listed = here.filter((row) => !row.matches(".extra"));
  const sent = form.dataset.seal;
  const sealed = once(listed.flatMap((row) => [...row.querySelectorAll("[data-seal]")]));
  if (sent && !seal().seal) sealed.push(word("unread", { seal: sent }));
  const flagged = here.filter((row) => row.querySelector("[data-finding]"));
  const unlike = [
    differ("seal", sealed),
    differ("missing", open().filter((r) => !box(r)?.checked && !r.matches(".extra")).map(named)),
    differ("extra", here.filter((row) => row.matches(".extra")).map(named)),
    differ("flagged", flagged.map(withFindings)),
    differ("unchecked", here.filter((row) => row.dataset.checked === "no").map(named)),
  ];
  part("differences").querySelector("[data-none]").hidden = unlike.some((n) => n > 0);
  part("take-count").textContent = String(here.length);
  part("differences").hidden = false;
  part("differences").focus();
}

/** What several rows say, each sentence once. @param {Element[]} said @returns {(Node | string)[]} */
function once(said) {
  const shown = new Map(said.map((p) => [p.textContent, p.cloneNode(true)]));
  for (const p of shown.values()) /** @type {HTMLElement} */ (p).hidden = false;
  return [...shown.values()];
}

/** @param {HTMLElement} row */
function withFindings(row) {
  const made = document.createElement("div");
  const id = document.createElement("span");
  id.className = "id";
  id.textContent = named(row);
  made.append(id, ...[...row.querySelectorAll("[data-finding]")].map((p) => p.cloneNode(true)));
  return made;
}

// --- what is recorded

/** One event for each container that was weighed, one for the others, the last closing it all. */
function received() {
  const said = {
    party: part("party").value,
    consignment: form.dataset.consignment,
    ...seal(),
    ...(part("remarks").value.trim() && { exceptions: part("remarks").value.trim() }),
  };
  const scale = part("scale").value;
  const weighed = came().filter((row) => gramsOf(row));
  const others = came().filter((row) => !gramsOf(row));
  const told = weighed.map((row) => ({
    rows: [row],
    event: newEvent("received", {
      ...said,
      containers: [codeOf(row)],
      weight_g: gramsOf(row),
      ...(scale && { scale }),
    }),
  }));
  const complete = part("complete").checked;
  if (others.length || complete) {
    const containers = [...new Set(others.map((row) => row.dataset.by ?? codeOf(row)))];
    const event = newEvent("received", { ...said, containers, ...(complete && { complete }) });
    told.push({ rows: others, event: after(event, told) });
  }
  return told;
}

/**
 * What closes a receipt happened after all that it closes, if by a millisecond: or what was weighed
 * in the same one would count as missing.
 * @param {any} event @param {{event: any}[]} told
 */
function after(event, told) {
  const times = told.map((one) => Date.parse(one.event.occurred_at) + 1);
  const at = Math.max(Date.parse(event.occurred_at), ...times);
  return { ...event, occurred_at: new Date(at).toISOString() };
}

function refused() {
  const here = came();
  const event = newEvent("refused", {
    party: part("party").value,
    consignment: form.dataset.consignment,
    reason: part("reason").value.trim(),
    containers: [...new Set(here.map((row) => row.dataset.by ?? codeOf(row)))],
  });
  return [{ rows: here, event }];
}

/** @param {() => {rows: HTMLElement[], event: any}[]} made @param {string} name */
async function send(made, name) {
  if (!part("party").value) return say(part("fault"), word("party"));
  const buttons = [part("take"), part("refuse")];
  for (const button of buttons) button.disabled = true;
  /** @type {any[]} */
  let became = [];
  try {
    // All at once: each is kept on the device before the first answer comes.
    became = await Promise.all(
      made().map(async ({ rows: some, event }) => {
        const outcome = await record(event);
        if (outcome.state !== "refused") for (const row of some) done(row, word(name));
        return { ...outcome, count: some.length };
      }),
    );
  } catch (error) {
    say(part("fault"), `${word("notKept")} ${error}`);
  } finally {
    for (const button of buttons) button.disabled = false;
  }
  changed();
  showOutcome(part("outcome"), word, became);
}

/** @param {HTMLElement} row @param {string} state */
function done(row, state) {
  const shown = document.createElement("span");
  shown.className = "state good";
  shown.textContent = state;
  const weight = row.querySelector("label.weight");
  box(row)?.remove();
  weight?.remove();
  row.querySelector(".what")?.append(" ", shown);
}

onScan(scanned);
form.addEventListener("submit", (/** @type {Event} */ event) => event.preventDefault());
form.addEventListener("change", (/** @type {any} */ event) => {
  const row = event.target.closest(".arrival");
  if (!row && !event.target.closest("#papers, section[aria-labelledby=papers]")) return;
  if (row) {
    if (event.target.matches("[data-weight]")) {
      if (box(row)) /** @type {HTMLInputElement} */ (box(row)).checked = true;
      delete row.dataset.by; // it was weighed by itself
    }
    row.querySelector("[data-findings]").replaceChildren();
    if (box(row)?.checked) check([row]);
  }
  changed();
});
form.addEventListener("keydown", (/** @type {any} */ event) => {
  // A scale that writes like a keyboard ends with Enter.
  if (event.key === "Enter" && event.target.matches("[data-weight]")) event.target.blur();
});
part("compare").addEventListener("click", compare);
part("take").addEventListener("click", () => {
  if (!came().length && !part("complete").checked) return say(part("fault"), word("nothing"));
  return send(received, "taken");
});
part("refuse").addEventListener("click", () => {
  if (!came().length) return say(part("fault"), word("nothing"));
  if (!part("reason").value.trim()) return say(part("fault"), word("reason"));
  return send(refused, "turned");
});
changed();
form.dataset.ready = ""; // from now on scans and presses are heard
