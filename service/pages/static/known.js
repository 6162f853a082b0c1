// @ts-check
// What is on record of the containers that somebody may meet, learnt while there is a network: how
// each stands and what is wrong with it. Kept with the pages that were seen, and dropped with them.

const PLACE = "/known";
const AT_ONCE = "1000";
const MOST = 10; // answers to one question; beyond that what is met is told of after the act

/** @typedef {{known: Record<string, any>, person: string}} Learnt */

/** @type {Learnt | null} */
let learnt = null;
const person = document.body.dataset.actor ?? "";

/** Every row that a door lists. @param {string} door @param {string} rows @param {Record<string, string>} asked */
async function all(door, rows, asked) {
  const found = [];
  let after = "";
  for (let round = 0; round < MOST; round += 1) {
    const wanted = { ...asked, limit: AT_ONCE, ...(after && { after }) };
    const answer = await fetch(`${door}?${new URLSearchParams(wanted)}`);
    if (!answer.ok) return null;
    const body = await answer.json();
    found.push(...body[rows]);
    if (!body.next) break;
    after = body.next;
  }
  return found;
}

/** Learn it anew; what was learnt before stays where the service cannot be asked. */
export async function learn() {
  if (!navigator.onLine) return;
  try {
    const [containers, violations] = await Promise.all([
      all("/v1/containers", "containers", { open: "true" }),
      all("/v1/violations", "violations", {}),
    ]);
    if (!containers || !violations) return;
    /** @type {Record<string, any>} */
    const known = {};
    for (const { container, weight_g, category, unit, due_at } of containers) {
      known[container] = { weight_g, category, unit, due_at, violations: [] };
    }
    for (const one of violations) known[one.container]?.violations.push(one);
    learnt = { known, person };
    const seen = await globalThis.caches?.open("seen");
    await seen?.put(PLACE, Response.json(learnt));
  } catch {
    return; // no network: what is not known beforehand is told after the act
  }
}

/** What was known of a container when there was a network. @param {string} id @returns {Promise<any>} */
export async function remembered(id) {
  if (!learnt) {
    const kept = await globalThis.caches?.match(PLACE);
    const found = kept && /** @type {Learnt} */ (await kept.json());
    if (found?.person === person) learnt = found;
  }
  return learnt?.known[id] ?? null;
}
