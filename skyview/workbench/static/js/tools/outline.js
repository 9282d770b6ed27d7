// Drawing an outline: corner by corner, or freehand in one stroke that is then simplified. Corners
// snap to the proposed skyline where there is one.

import { distance, simplify, snapTo, toScreen } from "../geometry.js";
import { set, state } from "../state/store.js";
import { Drawn } from "./drawn.js";

const SNAP_PX = 14;
const CLOSE_PX = 16;
const KEEP_WITHIN_PX = 1.6;

const snapped = (point) =>
  state.snapping ? snapTo(state.proposals?.line_px ?? [], point, SNAP_PX / state.frame.scale) : point;

/** Corner by corner; the first corner again, a double click or Enter on it closes the shape. */
export class Corners {
  constructor(loupe, closed) {
    Object.assign(this, { loupe, closed });
    this.undone = [];
  }

  claims({ type }) {
    return type === "touch" || type === "pen";
  }

  press(point) {
    this.move(point);
  }

  move({ picture, screen }) {
    this.loupe.show(state.frame, snapped(picture), screen);
    set({ hover: picture });
  }

  lift(point) {
    this.loupe.hide();
    this.tap(point);
  }

  tap({ picture, screen }) {
    const points = state.draft?.points ?? [];
    if (points.length > 2 && distance(toScreen(state.frame, points[0]), screen) < CLOSE_PX) {
      this.finish();
      return;
    }
    this.undone = [];
    set({ draft: { points: [...points, snapped(picture)] } });
  }

  /** Two taps at one place; quick ones at two corners are no more than two corners. */
  twice() {
    const [one, other] = (state.draft?.points ?? []).slice(-2);
    if (other && distance(one, other) * state.frame.scale < CLOSE_PX) this.finish();
  }

  finish() {
    const points = withoutRepeats(state.draft?.points ?? []);
    if (points.length < 3) return;
    set({ draft: { points: [] } });
    this.undone = [];
    this.closed(points);
  }

  /** Takes the last corner back; false when there is none, so that the history is asked. */
  back() {
    const points = state.draft?.points ?? [];
    if (!points.length) return false;
    this.undone.push(points[points.length - 1]);
    set({ draft: { points: points.slice(0, -1) } });
    return true;
  }

  forth() {
    if (!this.undone.length) return false;
    set({ draft: { points: [...(state.draft?.points ?? []), this.undone.pop()] } });
    return true;
  }

  erase() {
    this.back();
  }

  cancel() {
    this.loupe.hide();
  }

  disable() {
    this.loupe.hide();
    this.undone = [];
  }
}

/** One stroke round the thing; lifting closes it. */
export class Freehand extends Drawn {
  constructor(closed) {
    super();
    this.closed = closed;
  }

  lift() {
    const points = simplify(state.draft?.points ?? [], KEEP_WITHIN_PX / state.frame.scale).map(snapped);
    set({ draft: null });
    const kept = withoutRepeats(points);
    if (kept.length > 2) this.closed(kept);
  }
}

export function withoutRepeats(points) {
  return points.filter((point, i) => i === 0 || distance(point, points[i - 1]) > 0.5).filter((point, i, all) => i === 0 || i < all.length - 1 || distance(point, all[0]) > 0.5);
}
