// One object holds all that the page knows; who wants to hear of a change says of which keys.

import { nearestIndex } from "../geometry.js";

const listeners = [];
let waiting = null;

export const state = {
  // from the server
  ready: false,
  open: false,
  program: "",
  shared: false,
  revision: 0,
  survey: null,
  history: { undo: null, redo: null },
  next: [],
  words: null,
  jobs: {},
  picture: null,
  angles: null,
  pose: null,
  heights: null,
  paths: null,
  why: null,
  spots: null,
  aims: null,
  ground: null,
  loss: null,
  pattern: null,
  proposals: null,
  // the user's place in the work
  step: "photos",
  view: null,
  spot: null,
  height: 3,
  leaf: "in",
  station: null,
  lossShown: false,
  lossChannel: null,
  groundShown: true,
  frame: null,
  tool: "look",
  draft: null,
  picked: null,
  hover: null,
  cursor: null,
  aim: null,
  trial: null,
  strokes: {},
  snapping: true,
  // what the page has to say
  saved: "saved",
  notices: [],
  conflict: null,
  troubles: {},
};

/** Takes new values; those who listen to a changed key hear of it once, in the same frame. */
export function set(values) {
  for (const [key, value] of Object.entries(values)) {
    if (!(key in state)) throw new Error(`no such key in the state: ${key}`);
    if (state[key] === value) continue;
    state[key] = value;
    if (!waiting) {
      waiting = new Set();
      requestAnimationFrame(tell);
    }
    waiting.add(key);
  }
}

/** Calls `hear(changed)` after changes of any of the keys. */
export function on(keys, hear) {
  listeners.push({ keys: keys.split(" "), hear });
}

function tell() {
  const changed = waiting;
  waiting = null;
  for (const { keys, hear } of listeners) {
    if (keys.some((key) => changed.has(key))) hear(changed);
  }
}

// --- looking things up ---------------------------------------------------------------------

const list = (name) => state.survey?.[name] ?? [];

export const items = list;
export const item = (name, id) => list(name).find((one) => one.id === id) ?? null;
export const view = () => item("views", state.view);
/** The marks of the view in hand, those made in one of its frames where they lie in the panorama. */
export const marksOfView = () => {
  const places = new Map((state.pose?.in_picture ?? []).map((one) => [one.mark, one.points_px]));
  return list("marks")
    .filter((mark) => mark.view === state.view && (!mark.frame || places.has(mark.id)))
    .map((mark) => (mark.frame ? { ...mark, points_px: places.get(mark.id) } : mark));
};
export const outlinesOfView = () => list("outlines").filter((outline) => outline.view === state.view);
export const thingOf = (outline) => item("obstructions", outline.obstruction);
export const antennaOfSpot = () => list("antennas").find((one) => one.spot === state.spot) ?? null;
export const limits = () => state.survey?.limits ?? {};

/** The table of heights if it is that of the view, spot and leaves in hand; else null. */
export function heightsNow() {
  const table = state.heights;
  const same = table?.heights_m?.length && table.view === state.view && table.spot === state.spot && table.leaf === state.leaf;
  return same ? table : null;
}

/** Why no antenna may stand where the mast does now; null where nothing marked forbids it. */
export function refusedHere() {
  const table = heightsNow();
  return table?.refused[nearestIndex(table.heights_m, state.height)] ?? null;
}

/** The table of headings if it is that of the antenna, place and leaves in hand; else null. */
export function aimsNow() {
  const { aims, paths } = state;
  const antenna = antennaOfSpot();
  const same = aims?.headings_deg.length && aims.antenna === antenna?.id && aims.spot === state.spot && aims.leaf === state.leaf;
  return same && aims.height_m === paths?.height_m && Math.abs(aims.height_m - state.height) < 1e-6 ? aims : null;
}

/** The heading whose reception is to be shown ahead of the server's answer; null when that is there. */
export function headingAhead() {
  if (state.aim !== null) return state.aim;
  const { paths } = state;
  return paths && paths.revision !== state.revision ? antennaOfSpot()?.aim_true_deg ?? null : null;
}

/** A short id that the list does not have yet: `stem`, `stem2`, `stem3` ... */
export function freshId(name, stem) {
  const taken = new Set(list(name).map((one) => one.id));
  const clean = stem.toLowerCase().normalize("NFKD").replace(/[^a-z0-9]+/g, "_").replace(/^_+|_+$/g, "") || "x";
  if (!taken.has(clean)) return clean;
  let count = 2;
  while (taken.has(`${clean}${count}`)) count += 1;
  return `${clean}${count}`;
}

/** The picture's size and whether it closes to a circle, as the geometry wants it. */
export function sheet() {
  const { picture } = state;
  if (!picture) return null;
  return {
    width: picture.width_px,
    height: picture.height_px,
    period: picture.full_circle ? picture.width_px : null,
  };
}
