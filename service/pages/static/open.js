// @ts-check
// A scanned code opens what belongs to it: the page says where, in data-opens.
import { onScan } from "./scan.js";

const place = /** @type {HTMLElement} */ (document.querySelector("[data-opens]"));
onScan((code) => location.assign(place.dataset.opens + encodeURIComponent(code)));
