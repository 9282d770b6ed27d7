// The shape of each path word and the line of each reception word. The ring is the opening that
// the wave comes through; what fills it stands in the way. Radius 11 on a plate, as in the
// program's other pictures.

import { pathOf, s } from "./svg.js";

const LOBES = 8;
const GAPS = [[-0.38, 0.12], [0.36, 0.3], [0.04, -0.42]];

function crown(radius) {
  const points = Array.from({ length: LOBES * 12 }, (_, i) => {
    const angle = (2 * Math.PI * i) / (LOBES * 12);
    const reach = radius * (0.86 + 0.17 * Math.abs(Math.sin((LOBES * angle) / 2)));
    return [reach * Math.cos(angle), reach * Math.sin(angle)];
  });
  return pathOf(points, true);
}

const ring = (r, more = {}) => s("circle", { r: 0.87 * r, class: "ring", "stroke-width": 0.255 * r, ...more });
const disc = (r, cx = 0, cy = 0, fill = "ink-fill") => s("circle", { r, cx, cy, class: fill });
const square = (half, fill) => s("rect", { x: -half, y: -half, width: 2 * half, height: 2 * half, class: fill });

const SHAPES = {
  clear: (r) => [disc(1.23 * r, 0, 0, "paper-fill"), ring(r), disc(0.22 * r)],
  grazing: (r) => [
    disc(1.23 * r, 0, 0, "paper-fill"),
    s("path", { d: `M${-0.9 * r} 0A${0.9 * r} ${0.9 * r} 0 0 0 ${0.9 * r} 0z`, class: "ink-fill" }),
    ring(r),
  ],
  through_trees: (r) => [
    s("path", { d: crown(1.36 * r), class: "paper-fill" }),
    s("path", { d: crown(1.09 * r), class: "ink-fill" }),
    ...GAPS.map(([x, y]) => disc(0.2 * r, x * r, y * r, "paper-fill")),
  ],
  blocked: (r) => [square(1.13 * r, "paper-fill"), square(0.88 * r, "ink-fill")],
  not_seen: (r) => [
    disc(1.23 * r, 0, 0, "paper-fill"),
    ring(r, { "stroke-dasharray": `${0.41 * r} ${0.28 * r}` }),
  ],
};

/** The class that carries a word's colour. */
export const wordClass = (path) => `w-${path.replaceAll("_", "-")}`;

/** A word's mark about (0, 0), with the arc of "beyond the horizon" below it. */
export function mark(path, { radius = 11, beyond = false } = {}) {
  const shapes = (SHAPES[path] ?? SHAPES.not_seen)(radius);
  const group = s("g", { class: `mark ${wordClass(path)}` }, shapes);
  if (beyond) {
    const [half, y] = [1.55 * radius, 1.73 * radius];
    const d = `M${-half} ${y}Q0 ${0.96 * radius} ${half} ${y}`;
    group.append(s("path", { d, class: "case arc" }), s("path", { d, class: "line arc" }));
  }
  return group;
}

/** The same as a small picture beside a word in a list. */
export function markIcon(path, beyond = false) {
  const box = beyond ? "-19 -15 38 38" : "-15 -15 30 30";
  return s("svg", { viewBox: box, class: "icon", "aria-hidden": "true" }, mark(path, { beyond }));
}

/** The pencil's loop round what the user holds. */
export function loop(radius) {
  const points = Array.from({ length: 61 }, (_, i) => {
    const turn = -0.4 + ((2 * Math.PI + 0.75) * i) / 60;
    const grow = radius * (1 + 0.011 * (turn + 0.4));
    return [1.08 * grow * Math.cos(turn - 2.2), 0.98 * grow * Math.sin(turn - 2.2)];
  });
  const d = pathOf(points);
  return s("g", { class: "loop" }, s("path", { d, class: "case" }), s("path", { d, class: "line" }));
}

/** A pole from foot to head in the manner of a reception word; null = not known yet. */
export function pole(points, reception) {
  const d = pathOf(points);
  const kind = `pole ${reception ? `r-${reception}` : "r-none"}`;
  const parts = [s("path", { d, class: `case ${kind}` }), s("path", { d, class: `line ${kind}` })];
  if (reception === "sure") parts.push(s("path", { d, class: "core" }));
  if (reception === "no" && points.length === 2) parts.push(...cut(points));
  return parts;
}

function cut([[x, foot], [, head]]) {
  const y = (foot + head) / 2;
  const bars = `M${x - 6} ${y - 6}h12M${x - 6} ${y + 6}h12`;
  return [
    s("rect", { x: x - 4, y: y - 5, width: 8, height: 10, class: "paper-fill" }),
    s("path", { d: bars, class: "case" }),
    s("path", { d: bars, class: "line pole" }),
  ];
}

/** A reception word's line beside the word in a list. */
export function lineIcon(reception) {
  const y = 6;
  const parts = {
    sure: `M0 ${y - 2}h40M0 ${y + 2}h40`,
    likely: `M0 ${y}h40`,
    doubtful: `M0 ${y}h40`,
    no: `M0 ${y}h15M25 ${y}h15M15 1v10M25 1v10`,
    unknown: `M1 ${y}h40`,
  };
  return s(
    "svg",
    { viewBox: "0 0 41 12", class: "icon-line", "aria-hidden": "true" },
    s("path", { d: parts[reception] ?? parts.unknown, class: `line r-${reception}` }),
  );
}
