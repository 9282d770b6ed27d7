// Words of the page that are chosen by code. What the program's tables and pictures say too comes
// from the program itself.

import { state } from "../state/store.js";

export const kinds = () => (state.words?.kinds ?? []).map((one) => [one.kind, one.word]);
export const kindWord = (kind) => state.words?.kinds.find((one) => one.kind === kind)?.word ?? String(kind);
export const kindFacts = (kind) => state.words?.kinds.find((one) => one.kind === kind) ?? null;
export const receptionWord = (code) => state.words?.receptions.find((one) => one.reception === code)?.word ?? code;
export const sentence = (code) => state.words?.sentences[code] ?? "";

/** Kinds of marks, how many points each takes, and what to tap. */
export const MARKS = {
  landmark: { word: "landmark", need: 1, say: "Tap the top of something whose place you know from a map." },
  bearing: { word: "bearing", need: 1, say: "Tap what you sighted with the compass." },
  sun: { word: "the sun", need: 1, say: "Tap the middle of the sun. The photo's time must be right." },
  level: { word: "level line", need: 2, say: "Tap two points on the sea's horizon or a line at eye height." },
  plumb: { word: "plumb edge", need: 2, say: "Tap two points on something upright: a wall's edge, a pole." },
  station: { word: "station's mast", need: 1, say: "Tap the station's mast where you see it." },
  shadow: { word: "plumb's shadow", need: 2, say: "Tap two points along the shadow of a plumb line." },
};

export const MEASURED = [
  ["", "how?"],
  ["laser", "laser"],
  ["tape", "tape"],
  ["paced", "paced"],
  ["map", "map"],
  ["guess", "guess"],
];

export const number = (value, digits = 0, sign = false) => {
  const rounded = Number(value.toFixed(digits)) + 0;
  const text = `${sign && rounded > 0 ? "+" : ""}${rounded.toFixed(digits)}`;
  return text.replace("-", "−");
};

export const bearing = (deg, digits = 0) => `${(Number((((deg % 360) + 360) % 360).toFixed(digits)) % 360).toFixed(digits)}°`;
export const metres = (m) => `${number(m, Math.abs(m) >= 9.95 ? 0 : 1)} m`;
export const spread = (deg) => `±${deg >= 0.095 ? deg.toFixed(1) : Math.max(deg, 0.01).toFixed(2)}°`;

export const UNKNOWN = "not known yet";

export const guyWires = (limit) => `Guys above ${number(limit, limit % 1 ? 1 : 0)}\u00a0m`;
