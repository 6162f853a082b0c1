// @ts-check
// Prints the page it stands on.

for (const button of document.querySelectorAll("button[data-print]")) {
  button.addEventListener("click", () => globalThis.print());
}
