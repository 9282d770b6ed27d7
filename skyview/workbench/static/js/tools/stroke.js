// Teaching the sky's finder: a tap or a drag over a part of the picture says what that part is.

import { clamp, distance, evenly, modulo } from "../geometry.js";
import { set, sheet, state } from "../state/store.js";
import { addStroke, takeBackStroke } from "../state/strokes.js";
import { Drawn } from "./drawn.js";

const MOST_PIXELS = 5;
const APART_PX = 18;

/** `kind` is what the pixels are, 'sky' or 'solid'; `told` hears of each change of the strokes. */
export class Stroke extends Drawn {
  constructor(kind, told) {
    super();
    Object.assign(this, { kind, told });
  }

  lift(_, moved) {
    const points = state.draft?.points ?? [];
    set({ draft: null });
    if (!points.length) return;
    const long = points.slice(1).reduce((sum, point, i) => sum + distance(points[i], point), 0) * state.frame.scale;
    this.made(evenly(points, moved ? clamp(1 + Math.round(long / APART_PX), 1, MOST_PIXELS) : 1));
  }

  tap({ picture }) {
    this.made([picture]);
  }

  /** Takes the points that lie in the picture for a stroke. */
  made(points) {
    const { width, height, period } = sheet();
    const pixels = points
      .map(([x, y]) => [period ? modulo(x, period) : x, y].map((value) => Math.floor(10 * value) / 10))
      .filter(([x, y]) => x >= 0 && y >= 0 && x < width && y < height);
    if (!pixels.length || state.picture.view !== state.view) return;
    addStroke(this.kind, pixels);
    this.told();
  }

  erase() {
    if (takeBackStroke()) this.told();
  }
}
