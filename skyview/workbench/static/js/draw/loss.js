// The loss layer at one channel: one aubergine in steps of opacity, contours cased and labelled.

import { toScreen } from "../geometry.js";
import { pathOf, s, text } from "./svg.js";

const edgeData = (polygons) => polygons.flatMap((polygon) => polygon.map((ring) => pathOf(ring, true))).join("");
const weight = (level) => (level === 6 ? "heavy" : level === 12 ? "dashed" : "");

/** Areas and contours in picture pixels. */
export function lossAreas(loss) {
  return (loss.steps ?? []).flatMap((step) => {
    const lines = (step.lines_px ?? []).map((line) => pathOf(line)).join("");
    const area = s("path", { d: edgeData(step.areas_px ?? []), class: "loss-area", "fill-rule": "evenodd", "fill-opacity": step.opacity });
    const kind = `contour ${weight(step.level_db)}`;
    return [area, s("path", { d: lines, class: `case ${kind}` }), s("path", { d: lines, class: `line ${kind}` })];
  });
}

/** The figures on the contours, in screen pixels. */
export function lossLabels(frame, loss) {
  return (loss.steps ?? []).flatMap((step) =>
    (step.labels_px ?? [])
      .map((point) => toScreen(frame, point))
      .filter(([x, y]) => x > 10 && x < frame.width - 10 && y > 10 && y < frame.height - 4)
      .map(([x, y]) => text(x, y + 5, step.level_db === 1 ? "1 dB" : `${step.level_db}`, { class: "halo figure bold", "text-anchor": "middle" })),
  );
}
