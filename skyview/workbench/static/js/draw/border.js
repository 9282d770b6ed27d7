// The border under the plate: true bearings in steps of five degrees, magnetic ones finer below,
// the aim's pointer, and the antenna's pattern unrolled along the same azimuths.

import { anglesAt, centreX, centreY, modulo, pointAt, toScreen } from "../geometry.js";
import { sheet } from "../state/store.js";
import { pathOf, s, text } from "./svg.js";

/** Screen x of an azimuth on the level line, or on the plate's middle where level is out of view. */
export function azimuthX(frame, angles, azimuth) {
  let point = pointAt(angles, azimuth, 0);
  if (!point) {
    const at = anglesAt(angles, [centreX(frame), centreY(frame)], sheet()?.period);
    point = at && pointAt(angles, azimuth, at.elevation);
  }
  return point ? toScreen(frame, point)[0] : null;
}

/** The azimuth at a screen x, from the same line. */
export function azimuthAtX(frame, angles, x) {
  const px = x / frame.scale + frame.left;
  const level = angles.level?.line_px;
  const near = level?.length ? level.reduce((a, b) => (Math.abs(b[0] - px) < Math.abs(a[0] - px) ? b : a)) : null;
  const at = anglesAt(angles, [px, near ? near[1] : centreY(frame)], sheet()?.period);
  return at ? at.azimuth : null;
}

/** How many pixels ten degrees take in the middle of the frame. */
function tenDegrees(frame, angles) {
  const at = anglesAt(angles, [centreX(frame), centreY(frame)], sheet()?.period);
  if (!at) return 80;
  const [a, b] = [azimuthX(frame, angles, at.azimuth), azimuthX(frame, angles, at.azimuth + 2)];
  return a === null || b === null ? 80 : Math.max(8, Math.abs(b - a) * 5);
}

const labelStep = (ten) => [1, 2, 5, 10, 20, 30, 45, 90].find((step) => (ten / 10) * step >= 44) ?? 90;

function marks(frame, angles, step, offset) {
  const places = [];
  for (let azimuth = 0; azimuth < 360; azimuth += step) {
    const x = azimuthX(frame, angles, modulo(azimuth + offset, 360));
    if (x !== null && x >= -60 && x <= frame.width + 60) places.push([azimuth, x]);
  }
  return places.sort((a, b) => a[1] - b[1]);
}

/** The two scales; `fine` leaves the magnetic one out (the phone's border is one line high). */
export function border(frame, angles, { fine = true, aim = null } = {}) {
  const ten = tenDegrees(frame, angles);
  const bar = ten > 300 ? 1 : 5;
  const parts = [s("rect", { x: -1, y: 3, width: frame.width + 2, height: 7, class: "scale" })];
  const bars = marks(frame, angles, bar, 0);
  for (let i = 0; i + 1 < bars.length; i += 1) {
    const [[azimuth, x], [, next]] = [bars[i], bars[i + 1]];
    if ((azimuth / bar) % 2 === 0 && next - x < ten) parts.push(s("rect", { x, y: 3, width: next - x, height: 7, class: "scale-full" }));
  }
  const step = labelStep(ten);
  const near = (x) => aim !== null && Math.abs(x - aim) < 46;
  for (const [azimuth, x] of marks(frame, angles, step, 0)) {
    if (near(x) || x < 34 || x > frame.width - 18) continue;
    const point = { 0: "N ", 90: "E ", 180: "S ", 270: "W " }[azimuth] ?? "";
    parts.push(text(x, 24, `${point}${azimuth}°`, { "text-anchor": "middle", class: point ? "cardinal" : "bearing" }));
  }
  if (fine && angles.declination_deg !== null) parts.push(...magnetic(frame, angles, step));
  parts.push(text(6, 24, "true", { class: "small" }));
  return parts;
}

function magnetic(frame, angles, step) {
  const places = marks(frame, angles, Math.max(1, step / 2), angles.declination_deg);
  const ticks = places.map(([azimuth, x]) => `M${x} 29v${azimuth % step ? 3 : 5}`).join("");
  const labels = places
    .filter(([azimuth, x]) => azimuth % step === 0 && x > 50 && x < frame.width - 18)
    .map(([azimuth, x]) => text(x, 43, `${azimuth}°`, { "text-anchor": "middle", class: "small" }));
  return [s("path", { d: `M0 29H${frame.width}${ticks}`, class: "fine" }), ...labels, text(6, 43, "magn.", { class: "small" })];
}

/** The aim's pointer on the border. */
export function pointer(x, foot) {
  return [
    s("path", { d: `M${x} 10V${foot}`, class: "pencil-line" }),
    s("path", { d: `M${x - 11} 0h22l-11 15z`, class: "pencil-fill" }),
  ];
}

const DEEPEST_DB = -20;

/** The pattern's curve between y = top (0 dB) and y = foot (-20 dB), as filled runs. */
export function patternRuns(frame, angles, pattern, band, aim, top, foot) {
  const level = (db) => top + (foot - top) * Math.min(1, db / DEEPEST_DB);
  const points = pattern.offsets_deg
    .map((offset, i) => [azimuthX(frame, angles, modulo(aim + offset, 360)), level(band.relative_db[i])])
    .filter(([x]) => x !== null)
    .sort((a, b) => a[0] - b[0]);
  const runs = [];
  for (const point of points) {
    const run = runs[runs.length - 1];
    if (run && point[0] - run[run.length - 1][0] < 80) run.push(point);
    else runs.push([point]);
  }
  return runs.filter((run) => run.length > 1).flatMap((run) => [
    s("path", { d: pathOf([[run[0][0], foot], ...run, [run[run.length - 1][0], foot]], true), class: "pattern-fill" }),
    s("path", { d: pathOf(run), class: "pencil-line" }),
  ]);
}
