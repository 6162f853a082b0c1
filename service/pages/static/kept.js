// @ts-check
// The shelf of the queue: what was done on this device, until it is answered and the answer is seen.

/**
 * @typedef {{state: "recorded" | "repeated" | "refused" | "waiting", reason: string,
 *   violations: any[]}} Outcome
 * @typedef {{n?: number, event: Record<string, any>, held?: boolean, back?: Outcome}} Kept
 *   `back` is what the service said of it, where somebody has still to see that; `held` is what it
 *   did not take from another's hands: who made it has to send it.
 */

/** @returns {Promise<IDBDatabase>} */
function opened() {
  return new Promise((done, failed) => {
    const opening = indexedDB.open("custody", 2);
    opening.onupgradeneeded = () => {
      const { result, transaction } = opening;
      const queue = result.objectStoreNames.contains("queue")
        ? /** @type {IDBTransaction} */ (transaction).objectStore("queue")
        : result.createObjectStore("queue", { keyPath: "n", autoIncrement: true });
      queue.createIndex("id", "event.id");
    };
    opening.onsuccess = () => done(opening.result);
    opening.onerror = () => failed(opening.error);
  });
}

/**
 * @template T
 * @param {IDBTransactionMode} mode
 * @param {(queue: IDBObjectStore) => IDBRequest<T> | void} act
 * @returns {Promise<T | undefined>} once it is on the device
 */
async function within(mode, act) {
  const database = await opened();
  try {
    const transaction = database.transaction("queue", mode, { durability: "strict" });
    const request = act(transaction.objectStore("queue"));
    await new Promise((done, failed) => {
      transaction.oncomplete = done;
      transaction.onerror = transaction.onabort = () => failed(transaction.error);
    });
    return request?.result;
  } finally {
    database.close();
  }
}

/** @param {Record<string, any>} event */
export async function keep(event) {
  await within("readwrite", (queue) => queue.add({ event }));
}

/** @returns {Promise<Kept[]>} in the order in which they were made */
export async function kept() {
  return (await within("readonly", (queue) => queue.getAll())) ?? [];
}

/** What is kept of an event, if anything is. @param {string} id @returns {Promise<Kept | undefined>} */
export function found(id) {
  return within("readonly", (queue) => queue.index("id").get(id));
}

/** All of it together, or nothing. @param {Kept[]} gone @param {Kept[]} [changed] */
export async function put(gone, changed = []) {
  await within("readwrite", (queue) => {
    for (const each of gone) queue.delete(/** @type {number} */ (each.n));
    for (const each of changed) queue.put(each);
  });
}
