// @ts-check
// Asks for the wall anew each minute and puts in what changed; says when it last could.

const EVERY_MS = 60000;

/** @returns {any} */
const wall = () => document.getElementById("wall");

async function ask() {
  try {
    const answer = await fetch(location.href, { redirect: "error" });
    if (!answer.ok) throw new Error(String(answer.status));
    const made = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = made.getElementById("wall");
    if (!fresh) throw new Error("that is no wall");
    if (fresh.innerHTML !== wall().innerHTML) wall().replaceWith(document.adoptNode(fresh));
  } catch {
    // Whatever the reason: the people in front of the wall are told that it is old.
    const told = wall().querySelector("#lost");
    told.textContent = wall().dataset.lost;
    told.hidden = false;
  }
}

setInterval(ask, EVERY_MS);
