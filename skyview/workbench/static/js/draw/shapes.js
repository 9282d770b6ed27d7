// Outlines on the plate: as the antenna sees them (the answer) or as they were drawn (marking),
// and their names in italics beside them.

import { between, bounds, mix, toScreen } from "../geometry.js";
import { heightsNow, outlinesOfView, state, thingOf } from "../state/store.js";
import { pathOf, s, text, touches, widthOf } from "./svg.js";

const TREES = new Set(["conifer", "broadleaf", "dead_tree", "tree"]);
const LINES = new Set(["power_line", "wire"]);

/** How an outline is drawn: solid for built, dashed for trees, dash-dot for lines. */
export const family = (kind) => (TREES.has(kind) ? "tree" : LINES.has(kind) ? "line" : "solid");

/** The silhouettes at a height between the server's heights: rings of picture points. */
export function silhouettesAt(heights, height) {
  const { index, share } = between(heights.heights_m, height);
  const ready = (i) => heights.ready[i];
  if (!ready(index) || !ready(index + 1)) return null;
  const at = share < 0.5 ? index : index + 1;
  return heights.silhouettes.filter((shape) => shape.first <= at && at <= shape.last).map((shape) => ({
    ...shape,
    rings_px: ringsBetween(shape, index, share),
  }));
}

function ringsBetween(shape, index, share) {
  const [from, to] = [index, Math.min(index + 1, shape.x_px.length - 1)].map((i) => Math.min(Math.max(i, shape.first), shape.last));
  return shape.x_px[from].map((xs, ring) =>
    xs.map((x, i) => [mix(x, shape.x_px[to][ring][i], share), mix(shape.y_px[from][ring][i], shape.y_px[to][ring][i], share)]),
  );
}

/** What to draw now: {id, thing, family, label, rings}. */
export function shapesNow() {
  if (state.step === "answer" || state.step === "spots") {
    const table = heightsNow() && silhouettesAt(heightsNow(), state.height);
    const rows = (state.paths?.view === state.view && state.paths.silhouettes) || [];
    const label = new Map(rows.map((row) => [row.obstruction, row.label]));
    return (table ?? rows).map((shape) => ({
      id: shape.obstruction,
      thing: shape.obstruction,
      family: shape.family ?? family(shape.kind),
      label: label.get(shape.obstruction) ?? shape.obstruction,
      rings: shape.rings_px,
    }));
  }
  return outlinesOfView().map((outline) => {
    const thing = thingOf(outline);
    const moved = state.draft?.outline === outline.id ? state.draft.rings : null;
    return {
      id: outline.id,
      thing: outline.obstruction,
      family: family(thing?.kind),
      label: nameOf(thing),
      rings: moved ?? outline.rings_px,
    };
  });
}

const nameOf = (thing) => {
  if (!thing) return "";
  if (thing.kind === "power_line") return `${thing.id}, power line: keep clear`;
  const far = thing.distance_m;
  return far ? `${thing.id}, ${far >= 9.95 ? Math.round(far) : far.toFixed(1)} m` : thing.id;
};

/** Paths in picture pixels; the chosen thing in pencil and on top. */
export function outlines(shapes, chosen) {
  const sorted = [...shapes].sort((a, b) => (a.thing === chosen) - (b.thing === chosen));
  return sorted.flatMap((shape) => {
    const d = shape.rings.map((ring) => pathOf(ring, shape.family !== "line" || ring.length > 2)).join("");
    const kind = `outline f-${shape.family}${shape.thing === chosen ? " held" : ""}`;
    return [s("path", { d, class: `case ${kind}` }), s("path", { d, class: `line ${kind}` })];
  });
}

const FONT = 'italic 14px "Noto Serif", Georgia, serif';

/** Names in screen pixels, each where it touches nothing; power lines are always named, if need be
 * over what is drawn, but never under the page's own buttons, whose boxes are `solid`. */
export function names(frame, shapes, chosen, boxes, solid) {
  const taken = [...boxes, ...solid];
  const parts = [];
  const urgent = (shape) => (shape.thing === chosen ? 2 : 0) + (shape.family === "line" ? 1 : 0);
  for (const shape of [...shapes].sort((a, b) => urgent(b) - urgent(a))) {
    if (!shape.label || !shape.rings[0]?.length) continue;
    const points = shape.rings[0].map((point) => toScreen(frame, point));
    const [left, top, right, bottom] = bounds(points);
    const seen = right > 0 && left < frame.width && bottom > 0 && top < frame.height;
    if (!seen || (right - left > 1.5 * frame.width && !urgent(shape)) || (right - left < 26 && !urgent(shape))) continue;
    const along = shape.family === "line" ? points.filter(([x, y]) => x > 60 && x < frame.width - 60 && y > 20 && y < frame.height - 20) : [];
    const place = free(frame, [left, top, right, bottom], widthOf(shape.label, FONT), taken, along) ?? (urgent(shape) ? forced(frame, points, widthOf(shape.label, FONT), solid) : null);
    if (!place) continue;
    taken.push(place.box);
    const held = shape.thing === chosen ? " held" : "";
    parts.push(text(place.x, place.y, shape.label, { class: `halo name${held}` }));
  }
  return parts;
}

/** A place for a name: above its shape, beside it, within it; for a line also anywhere along it. */
function free(frame, [left, top, right, bottom], width, taken, along) {
  const middle = (Math.max(left, 4) + Math.min(right, frame.width - 4) - width) / 2;
  const low = Math.min(bottom, frame.height) - 12;
  const spots = [[middle, top - 7], [left - width - 8, top + 16], [right + 8, top + 16], [middle, top + 24], [middle, (Math.max(top, 0) + low) / 2], [middle, low], ...along.flatMap(([x, y]) => [[x - width / 2, y - 9], [x - width / 2, y + 22]])];
  for (const [x, y] of spots) {
    const at = [Math.min(Math.max(x, 4), frame.width - width - 4), Math.min(Math.max(y, 16), frame.height - 8)];
    const box = [at[0] - 2, at[1] - 14, at[0] + width + 2, at[1] + 5];
    if (!taken.some((other) => touches(box, other, 2))) return { x: at[0], y: at[1], box };
  }
  return null;
}

/** Where a name stands that must be read and has no free place: as near above its shape as may be. */
function forced(frame, points, width, solid) {
  const [left, top, right] = bounds(points);
  const middle = (Math.max(left, 4) + Math.min(right, frame.width - 4) - width) / 2;
  const x = Math.max(4, Math.min(middle, frame.width - width - 4));
  const low = frame.height - 8;
  const home = Math.min(Math.max(top - 7, 16), low);
  const rows = Array.from({ length: Math.ceil((low - 16) / 8) }, (_, row) => 16 + 8 * row);
  const places = [home, ...rows.sort((a, b) => Math.abs(a - home) - Math.abs(b - home))].map((y) => ({ x, y, box: [x, y - 14, x + width, y + 5] }));
  return places.find((place) => !solid.some((other) => touches(place.box, other, 2))) ?? places[0];
}

/** Handles of the outline in hand, in screen pixels. */
export function handles(frame, rings, corner) {
  return rings.flatMap((ring, r) =>
    ring.map((point, i) => {
      const [x, y] = toScreen(frame, point);
      const held = corner && corner.ring === r && corner.index === i;
      return s("rect", { x: x - (held ? 7 : 5), y: y - (held ? 7 : 5), width: held ? 14 : 10, height: held ? 14 : 10, class: `handle${held ? " held" : ""}` });
    }),
  );
}
