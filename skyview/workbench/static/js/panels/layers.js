// Choices that several panels offer: leaves, and the terrain's skyline on the picture.

import { set, state } from "../state/store.js";
import { choice, h, trouble } from "./dom.js";
import { sentence } from "./words.js";

export const leafChoice = (words, value, change) => choice(words, value, [["in", "in leaf"], ["out", "out of leaf"]], change);

/** Shows or hides the terrain's skyline, where the site has terrain. */
export function groundChoice() {
  if (!state.survey?.site?.terrain) return null;
  return [
    choice("Terrain", state.groundShown, [[true, "show"], [false, "hide"]], (groundShown) => set({ groundShown })),
    state.groundShown ? h("p", { class: "note" }, `Ticked line: ${sentence("legend_terrain")}.`) : null,
    trouble(state.troubles.ground),
  ];
}
