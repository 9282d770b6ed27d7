// Strokes: picture pixels of which somebody said what they are, 'sky' or 'solid'. Each view has its
// own; this page alone keeps them, as long as the view's picture stays the same.

import { set, state } from "./store.js";

export const isStroke = (tool) => tool === "sky" || tool === "solid";

/** The strokes of a view, the oldest first: {kind, points_px}. */
export const strokesOf = (view) => state.strokes[view]?.made ?? [];

/** The pixels of a view's strokes as the server takes them: {sky, solid}. */
export function strokePixels(view) {
  const of = (kind) => strokesOf(view).filter((one) => one.kind === kind).flatMap((one) => one.points_px);
  return { sky: of("sky"), solid: of("solid") };
}

const keep = (made) => set({ strokes: { ...state.strokes, [state.view]: { picture: state.picture?.key, made } } });

/** Adds a stroke to the view in hand. */
export const addStroke = (kind, points_px) => keep([...strokesOf(state.view), { kind, points_px }]);

/** Takes the last stroke of the view in hand back; false where there is none. */
export function takeBackStroke() {
  const made = strokesOf(state.view);
  if (made.length) keep(made.slice(0, -1));
  return made.length > 0;
}

export const forgetStrokes = () => keep([]);

/** Drops the strokes that were made on another picture of the view in hand. */
export function dropOldStrokes() {
  const { picture, strokes } = state;
  if (!picture || !strokes[picture.view] || strokes[picture.view].picture === picture.key) return;
  set({ strokes: Object.fromEntries(Object.entries(strokes).filter(([view]) => view !== picture.view)) });
}
