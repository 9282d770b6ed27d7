// Making SVG elements, and the lines that every layer shares: a line upon a photograph is cased
// in paper so that it reads on any ground.

const SPACE = "http://www.w3.org/2000/svg";

export function s(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SPACE, tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false) element.setAttribute(name, value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

const round = (value) => Math.round(value * 100) / 100;

/** The path data of points; closed with `z`. */
export function pathOf(points, closed = false) {
  if (!points.length) return "";
  const steps = points.map(([x, y]) => `${round(x)} ${round(y)}`).join("L");
  return `M${steps}${closed ? "z" : ""}`;
}

/** A line with its paper seam: two paths of the same data. */
export function cased(d, classes) {
  return [s("path", { d, class: `case ${classes}` }), s("path", { d, class: `line ${classes}` })];
}

export function text(x, y, words, attributes = {}) {
  return s("text", { x: round(x), y: round(y), ...attributes }, words);
}

const ruler = document.createElement("canvas").getContext("2d");
const widths = new Map();

/** Width of words in a CSS font. [px] */
export function widthOf(words, font) {
  const key = `${font}|${words}`;
  if (!widths.has(key)) {
    ruler.font = font;
    widths.set(key, ruler.measureText(words).width);
  }
  return widths.get(key);
}

export const touches = (a, b, gap = 0) =>
  a[0] < b[2] + gap && b[0] < a[2] + gap && a[1] < b[3] + gap && b[1] < a[3] + gap;
