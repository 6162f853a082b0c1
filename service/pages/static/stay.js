// @ts-check
// Has the pages of who is signed in kept on this device, so that they open without a network.

const pages = [...document.querySelectorAll('a[href^="/"]')].map((link) => link.getAttribute("href"));

async function stay() {
  await navigator.serviceWorker.register("/worker.js", { updateViaCache: "none" });
  const { active } = await navigator.serviceWorker.ready;
  active?.postMessage({ keep: pages });
}

// Browsers offer it over TLS alone; and a page that was kept has nothing new to keep.
if (navigator.serviceWorker && document.querySelector("#old[hidden]")) await stay();
