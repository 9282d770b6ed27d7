// Cautions, where the hazard is: power lines beside the picture that shows them and the mast that
// could reach them, the roof where spots are chosen.

import { change } from "../state/changes.js";
import { items, limits, state } from "../state/store.js";
import { field, h } from "./dom.js";
import { sentence } from "./words.js";

const caution = (head, text, ...more) => h("div", { class: "caution", role: "note" }, h("b", {}, head), " ", text, more);

/** Power lines: those that are marked, or that nobody has looked. */
export function linesCaution() {
  const lines = items("obstructions").filter((thing) => thing.kind === "power_line").map((thing) => thing.id);
  const looked = Boolean(limits().lines_checked);
  const tick = field("Power lines were looked for on the spot", {
    kind: "checkbox",
    value: looked,
    id: "lines-checked",
    change: (value) => change(value ? "note that power lines were looked for" : "note that power lines were not looked for", [{ do: "set", part: "limits", fields: { lines_checked: value } }]),
  });
  const head = lines.length ? `Power lines marked: ${lines.join(", ")}.` : "Power lines.";
  return caution(head, sentence(looked || lines.length ? "caution_power_line" : "lines_unchecked"), tick);
}

export const roofCaution = () => caution("The roof.", (state.words?.cautions ?? []).join(" "));
