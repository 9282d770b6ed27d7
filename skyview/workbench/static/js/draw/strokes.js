// What somebody said of the picture: a ring is sky, a cross is not.

import { toScreen } from "../geometry.js";
import { state } from "../state/store.js";
import { strokesOf } from "../state/strokes.js";
import { pathOf, s } from "./svg.js";

const RADIUS = 7;
const CROSS = [[[-1, -1], [1, 1]], [[-1, 1], [1, -1]]].map((bar) => pathOf(bar.map(([x, y]) => [0.85 * RADIUS * x, 0.85 * RADIUS * y]))).join("");

/** A ring or a cross about a screen point. */
function strokeMark(kind, x, y) {
  const shape = (part) => (kind === "sky" ? s("circle", { r: RADIUS, class: part }) : s("path", { d: CROSS, class: part }));
  return s("g", { class: `stroke s-${kind}`, transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})` }, shape("case"), shape("line"));
}

/** The strokes of the view in hand, in screen pixels. */
export const strokeMarks = (frame) => strokesOf(state.view).flatMap(({ kind, points_px }) => points_px.map((point) => strokeMark(kind, ...toScreen(frame, point))));

/** The same as a small picture beside its words. */
export const strokeIcon = (kind) => s("svg", { viewBox: "-10 -10 20 20", class: "icon stroke-icon", "aria-hidden": "true" }, strokeMark(kind, 0, 0));
