// Marks as the hand set them and where the calibration puts them: an arrow, ten times as long.

import { toScreen } from "../geometry.js";
import { marksOfView, state } from "../state/store.js";
import { pathOf, s, text, widthOf } from "./svg.js";

export const TIMES = 10;

const FONT = 'italic 13px "Noto Serif", Georgia, serif';

const target = (x, y) => `M${x - 10} ${y}h7M${x + 3} ${y}h7M${x} ${y - 10}v7M${x} ${y + 3}v7`;

function arrow([x, y], [dx, dy]) {
  const length = Math.hypot(dx, dy);
  if (length < 3) return "";
  const [ux, uy] = [dx / length, dy / length];
  const tip = [x + dx, y + dy];
  const wing = (side) => [tip[0] - 9 * ux - side * 5 * uy, tip[1] - 9 * uy + side * 5 * ux];
  return `M${x} ${y}L${tip[0]} ${tip[1]}${pathOf([wing(1), tip, wing(-1)])}`;
}

/** All marks of the view in hand with their arrows; `boxes` gathers what their labels fill. */
export function marksWithArrows(frame, boxes) {
  const pose = state.trial?.pose ?? state.pose;
  const residuals = new Map((pose?.residuals ?? []).map((one) => [one.mark, one]));
  const parts = [];
  const marks = state.trial?.mark ? [...marksOfView().filter((one) => one.id !== state.trial.mark.id), state.trial.mark] : marksOfView();
  for (const mark of marks) {
    const points = mark.points_px.map((point) => toScreen(frame, point));
    const [x, y] = points[0];
    if (points.every(([px, py]) => px < -60 || px > frame.width + 60 || py < -60 || py > frame.height + 60)) continue;
    const held = state.picked?.list === "marks" && state.picked.id === mark.id;
    if (points.length > 1) {
      const d = pathOf(points);
      parts.push(s("path", { d, class: "case mark-line" }), s("path", { d, class: "line mark-line" }));
    }
    for (const [px, py] of points) {
      const d = target(px, py);
      parts.push(s("path", { d, class: "case target" }), s("path", { d, class: `line target${held ? " held" : ""}` }));
    }
    const residual = residuals.get(mark.id);
    if (residual?.from_px && residual?.to_px) {
      const d = arrow([x, y], [0, 1].map((i) => (residual.to_px[i] - residual.from_px[i]) * frame.scale * TIMES));
      if (d) parts.push(s("path", { d, class: "case arrow" }), s("path", { d, class: "line arrow" }));
    }
    const name = mark.landmark ?? mark.station ?? mark.kind;
    const low = y > frame.height - 30;
    parts.push(text(x + 9, low ? y - 9 : y + 18, name, { class: `halo mark-name${held ? " held" : ""}` }));
    boxes.push([x - 10, y - 10, x + 10, y + 10], [x + 9, low ? y - 22 : y + 6, x + 9 + widthOf(name, FONT), low ? y - 4 : y + 22]);
  }
  return parts;
}
