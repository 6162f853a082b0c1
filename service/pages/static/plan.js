// @ts-check
// What a run does, as it is chosen before it begins.

import { arrow, own } from "./language.js";
import { part, said } from "./stop.js";

export const names = JSON.parse(part("run").dataset.names);
export const plan = part("plan");

function chosen() {
  return plan.elements.namedItem("way").value;
}

/** Show what is asked for the way that is chosen. */
export function choose() {
  for (const fields of plan.querySelectorAll("fieldset[data-way]")) {
    fields.hidden = fields.dataset.way !== chosen();
    fields.disabled = fields.hidden;
  }
  part("begin").hidden = !chosen();
}

/** @param {FormData} filled */
function fieldsOf(filled) {
  const text = (/** @type {string} */ name) => String(filled.get(name) ?? "");
  switch (chosen()) {
    case "collected":
      return {
        from_party: text("from_party"),
        to_party: text("to_party"),
        protective_gear: text("gear") === "worn",
      };
    case "stored": {
      const warm = text("temperature_c");
      return { store: text("store"), ...(warm ? { temperature_c: Number(warm) } : {}) };
    }
    case "double_bagged":
      return { tare_g: Math.round(Number(text("tare_g") || 0)) };
    default:
      return {};
  }
}

/** What a run does, and where. @param {{way: string, fields: Record<string, any>}} now */
export function titleOf({ way, fields }) {
  const place = names.places[fields.from_party ?? fields.store];
  const to = names.places[fields.to_party];
  const there = [place, to].filter(Boolean).map(own);
  return [said[way], ...there.flatMap((name, at) => [at ? ` ${arrow} ` : ": ", name])];
}

/** The plan as it is filled in. */
export function planned() {
  const filled = new FormData(plan);
  const fields = fieldsOf(filled);
  const outer = filled.get("outer") === "own";
  return { way: chosen(), fields, outer };
}
