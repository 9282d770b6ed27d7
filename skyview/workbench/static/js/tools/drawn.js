// A line drawn by the hand: the points on its way are kept until it is lifted.

import { distance } from "../geometry.js";
import { set, state } from "../state/store.js";

const STEP_PX = 2;

/** What is drawn lies in the draft; `lift` says what becomes of it. */
export class Drawn {
  claims({ type }) {
    return type !== "key";
  }

  press({ picture }) {
    set({ draft: { points: [picture], free: true } });
  }

  move({ picture }) {
    const points = state.draft?.points ?? [];
    if (!points.length || distance(points[points.length - 1], picture) * state.frame.scale < STEP_PX) return;
    set({ draft: { points: [...points, picture], free: true } });
  }

  cancel() {
    set({ draft: null });
  }
}
