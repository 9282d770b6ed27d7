// Angles on the plate: crosses each ten degrees, the level band, north, elevations at the edge.

import { anglesAt, pointAt, toPicture, toScreen } from "../geometry.js";
import { sheet, state } from "../state/store.js";
import { pathOf, s, text, touches } from "./svg.js";

const inside = (frame, [x, y], margin = 0) =>
  x >= -margin && y >= -margin && x <= frame.width + margin && y <= frame.height + margin;

/** Crosses each 10 x 10 degrees; those under a tag are left out. */
export function crosses(frame, angles, boxes) {
  const places = (angles.crosses ?? []).map((cross) => toScreen(frame, [cross.x_px, cross.y_px]));
  const close = frame.scale * (sheet()?.width ?? 1) < 900;
  const shown = places.filter(
    (place, i) =>
      inside(frame, place, 6) &&
      !(close && (angles.crosses[i].azimuth_deg / 10) % 2) &&
      !boxes.some((box) => touches([place[0] - 6, place[1] - 6, place[0] + 6, place[1] + 6], box)),
  );
  const d = shown.map(([x, y]) => `M${x - 5} ${y}h10M${x} ${y - 5}v10`).join("");
  return [s("path", { d, class: "case cross" }), s("path", { d, class: "line cross" })];
}

/** The level band, as wide as one sigma each way of the calibration; in picture pixels. */
export function levelBand(level) {
  if (!level?.line_px?.length) return [];
  const { upper_px: upper, lower_px: lower } = level;
  const parts = [];
  if (upper?.length && lower?.length) {
    parts.push(s("path", { d: pathOf([...upper, ...lower.toReversed()], true), class: "level-band" }));
    parts.push(s("path", { d: pathOf(upper) + pathOf(lower), class: "line level" }));
  } else parts.push(s("path", { d: pathOf(level.line_px), class: "line level" }));
  return parts;
}

const HACHURE = 0.006;

/** The terrain's skyline with ticks downhill, as maps draw the edge of a slope; in picture pixels. */
export function skyline(ground) {
  const long = HACHURE * (sheet()?.height ?? 1000);
  return ground.lines_px.flatMap((line) => {
    const ticks = line.filter((_, i) => i % 2).map(([x, y]) => `M${x} ${y}v${long}`).join("");
    const d = pathOf(line);
    return [s("path", { d, class: "case ground" }), s("path", { d: d + ticks, class: "line ground" })];
  });
}

/** The north line with its pennant, in screen pixels. */
export function north(frame, angles) {
  const points = angles.north?.points_px;
  if (!points?.length) return [];
  const line = points.map((point) => toScreen(frame, point));
  const x = line.reduce((best, point) => (Math.abs(point[1]) < Math.abs(best[1]) ? point : best))[0];
  if (!line.some((point) => inside(frame, point, 40))) return [];
  const pennant = `M${x - 13} 0h26v17l-13 9l-13 -9z`;
  return [
    s("path", { d: pathOf(line), class: "case north" }),
    s("path", { d: pathOf(line), class: "line north" }),
    s("path", { d: pennant, class: "pennant" }),
    text(x, 15, "N", { class: "pennant-text", "text-anchor": "middle" }),
  ];
}

export function northBox(frame, angles) {
  const points = angles?.north?.points_px;
  if (!points?.length) return [];
  const x = toScreen(frame, points[0])[0];
  return [[x - 14, 0, x + 14, 27]];
}

/** Elevations at the plate's left edge, and the boxes that they fill. */
export function elevations(frame, angles, boxes) {
  const at = anglesAt(angles, toPicture(frame, [2, frame.height / 2]), sheet()?.period);
  const marks = [];
  const taken = [];
  if (!at) return { marks, boxes: taken };
  for (let elevation = -60; elevation <= 80; elevation += 10) {
    const point = pointAt(angles, at.azimuth, elevation);
    if (!point) continue;
    const [, y] = toScreen(frame, point);
    const box = [4, y - 16, 44, y];
    if (y < 14 || y > frame.height - 4 || boxes.some((other) => touches(box, other, 2))) continue;
    const words = elevation === 0 ? "level" : `${elevation > 0 ? "+" : "−"}${Math.abs(elevation)}°`;
    marks.push(text(6, y - 3, words, { class: "halo edge" }));
    taken.push(box);
  }
  return { marks, boxes: taken };
}

/** Half the width of the level band in degrees is what the read-out says; nothing is drawn here. */
export function readoutText(at) {
  const sigma = (value) => (value === null ? "" : ` ±${value >= 0.095 ? value.toFixed(1) : Math.max(value, 0.01).toFixed(2)}°`);
  const signed = `${at.elevation < 0 ? "−" : "+"}${Math.abs(at.elevation).toFixed(1)}°`;
  const magnetic = at.magnetic === null ? "" : `${at.magnetic.toFixed(1)}° magn.`;
  return {
    bearing: `${(Math.round(at.azimuth * 10) / 10 % 360).toFixed(1)}°${sigma(at.azimuthSigma)}`,
    magnetic,
    elevation: `${signed}${sigma(at.elevationSigma)}`,
  };
}

export const hasAngles = () => Boolean(state.angles?.grid);
