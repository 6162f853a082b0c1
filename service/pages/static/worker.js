// @ts-check
// Keeps pages and their files on this device, so that they open without a network.
// Files never change under their address: they are taken from here. Pages are asked of the service
// first. What somebody saw is dropped when they sign out, and when anybody comes to sign in.

/** The addresses of the files, written before this script by the service. @type {string[]} */
const files = /** @type {any} */ (self).FILES;
const worker = /** @type {any} */ (self);
const FILES = `files ${files[0]}`;
const SEEN = "seen";
const PAGES = ["/ward", "/ward/today", "/spill", "/run", "/leave", "/receive", "/load", "/wall"];
const ASKS = ["/sign-in", "/begin"]; // who comes here may be somebody else
const FLAGS = "/categories.css";
const NOWHERE = "/no-network";
const LEAVING = "/leaving"; // stands among what was seen while a sign-out has still to be sent
const PATIENCE_MS = 3000;
const FRESH_MS = 1_800_000;
const MOST = 60;

/** Counts the people: a page that was asked for by the one before is not kept. */
let era = 0;

/** @param {string | URL} address */
const keeps = (address) => PAGES.includes(new URL(address, location.origin).pathname);

async function install() {
  await (await caches.open(FILES)).addAll([...files, NOWHERE]);
  await worker.skipWaiting();
}

/** Pages of an older version need its files: those go once every page is there anew. */
async function renew() {
  const older = (await caches.keys()).filter((name) => name !== FILES && name !== SEEN);
  if (!older.length) return;
  const pages = (await (await caches.open(SEEN)).keys()).map((key) => key.url).filter(keeps);
  const renewed = await Promise.all(pages.map(fetched));
  if (renewed.every(Boolean)) await Promise.all(older.map((name) => caches.delete(name)));
}

async function drop() {
  era += 1;
  await caches.delete(SEEN);
}

/** Ask for a page and keep it; whether it is kept. @param {string} address */
async function fetched(address) {
  try {
    const now = era;
    const answer = await take(address, await fetch(address), now);
    return answer.ok && now === era;
  } catch {
    return false; // no network, or the service is busy
  }
}

/** @param {string} address @param {Response} answer @param {number} then */
async function take(address, answer, then) {
  if (!answer.ok || answer.redirected || then !== era) return answer;
  const seen = await caches.open(SEEN);
  await seen.put(address, answer.clone());
  const asked = (await seen.keys()).filter((key) => new URL(key.url).search);
  await Promise.all(asked.slice(0, -MOST).map((key) => seen.delete(key)));
  return answer;
}

/** Keep the pages that a page leads to; the first is where somebody begins. @param {string[]} pages */
async function keepAll(pages) {
  await renew();
  const seen = await caches.open(SEEN);
  if (pages[0] && keeps(pages[0])) await seen.put("/", new Response(pages[0]));
  const missed = [];
  for (const address of [FLAGS, ...pages.filter(keeps).slice(0, MOST)]) {
    const kept = await seen.match(address);
    const at = Date.parse(kept?.headers.get("Date") ?? "");
    if ((!kept || Date.now() - at > FRESH_MS) && !(await fetched(address))) missed.push(address);
  }
  // Once more, when all the others are done; then again with the next page.
  for (const address of missed) await fetched(address);
}

/** The page as it was kept, with the line that says so. @param {Response} kept */
async function old(kept) {
  const text = (await kept.text()).replace('<p id="old" hidden', '<p id="old"');
  const headers = new Headers(kept.headers);
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
  return new Response(text, { headers });
}

/** @param {FetchEvent} event */
async function page(event) {
  const { request } = event;
  const { pathname } = new URL(request.url);
  if (!(await signedOut())) return nowhere();
  const now = era;
  const coming = fetch(request).then(async (answer) => {
    if (ASKS.includes(pathname)) await drop();
    return keeps(request.url) ? take(request.url, answer, now) : answer;
  });
  const kept = await (await caches.open(SEEN)).match(pathname === "/" ? "/" : request.url);
  if (!kept) return coming.catch(nowhere);
  const answer = coming.catch(() => null);
  event.waitUntil(answer);
  const first = await Promise.race([answer, new Promise((go) => setTimeout(go, PATIENCE_MS))]);
  if (first && first.status < 500) return first;
  return pathname === "/" ? Response.redirect(await kept.text(), 302) : old(kept);
}

async function nowhere() {
  return (await caches.match(NOWHERE)) ?? Response.error();
}

/** Which flags there are: as they are now, else as they were. @param {Request} request */
async function newest(request) {
  const now = era;
  try {
    return await take(request.url, await fetch(request), now);
  } catch (fault) {
    const kept = await caches.match(request.url);
    if (kept) return kept;
    throw fault;
  }
}

/** Somebody signs out; without a network the service is told as soon as there is one. */
async function signOut(/** @type {Request} */ request) {
  await drop();
  try {
    return await fetch(request);
  } catch {
    await (await caches.open(SEEN)).put(LEAVING, new Response(""));
    return Response.json({ ended: 1 });
  }
}

/** Tell the service of a sign-out that it has not heard of; whether nothing is left to tell. */
async function signedOut() {
  if (!(await caches.match(LEAVING))) return true;
  try {
    const { ok, status } = await fetch("/v1/sign-out", { method: "POST" });
    if (!ok && status !== 401) return false;
  } catch {
    return false; // still no network: nobody's pages are shown
  }
  await drop();
  return true;
}

/** @param {Request} request */
async function file(request) {
  return (await caches.match(request.url)) ?? fetch(request);
}

worker.addEventListener("install", (/** @type {ExtendableEvent} */ event) => {
  event.waitUntil(install());
});
worker.addEventListener("activate", (/** @type {ExtendableEvent} */ event) => {
  event.waitUntil(worker.clients.claim().then(renew));
});
worker.addEventListener("message", (/** @type {ExtendableMessageEvent} */ event) => {
  if (Array.isArray(event.data?.keep)) event.waitUntil(keepAll(event.data.keep));
});
worker.addEventListener("fetch", (/** @type {FetchEvent} */ event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== location.origin) return;
  if (request.method === "POST") {
    if (pathname.startsWith("/v1/sign-out")) event.respondWith(signOut(request));
    else if (pathname.startsWith("/v1/sign-in")) event.waitUntil(drop());
  } else if (pathname.startsWith("/static/")) event.respondWith(file(request));
  else if (request.mode === "navigate") event.respondWith(page(event));
  else if (pathname === FLAGS) event.respondWith(newest(request));
});
