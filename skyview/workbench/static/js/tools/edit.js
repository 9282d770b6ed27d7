// Changing an outline in hand: corners moved, put in on an edge, taken away. Without an outline in
// hand it is the open hand.

import { distance, nearestCopy, nearestOnLine, snapTo, toScreen } from "../geometry.js";
import { outlinesOfView, set, state } from "../state/store.js";
import { Look } from "./look.js";

const REACH_PX = { mouse: 10, touch: 22, pen: 14, key: 0 };
const SNAP_PX = 14;

export class Edit extends Look {
  constructor(plate, gestures, loupe, saved) {
    super(plate, gestures);
    Object.assign(this, { loupe, saved });
  }

  outline() {
    if (state.step !== "mark" || state.picked?.list !== "outlines") return null;
    return outlinesOfView().find((one) => one.id === state.picked.id) ?? null;
  }

  /** The rings in hand: as moved so far, or as saved. */
  rings(outline) {
    return state.draft?.outline === outline.id ? state.draft.rings : outline.rings_px;
  }

  corner({ screen, type }) {
    const outline = this.outline();
    if (!outline) return null;
    let best = null;
    this.rings(outline).forEach((ring, r) =>
      ring.forEach((point, index) => {
        const far = distance(toScreen(state.frame, point), screen);
        if (far < (best?.far ?? REACH_PX[type] ?? 10)) best = { ring: r, index, far };
      }),
    );
    return best;
  }

  claims(point) {
    return Boolean(this.corner(point));
  }

  press(point) {
    const outline = this.outline();
    const corner = this.corner(point);
    this.hold(outline, this.rings(outline), corner);
    if (point.type === "touch") this.loupe.show(state.frame, point.picture, point.screen);
  }

  move(point) {
    const { draft } = state;
    const [x, y] = state.snapping ? snapTo(state.proposals?.line_px ?? [], point.picture, SNAP_PX / state.frame.scale) : point.picture;
    const old = draft.rings[draft.corner.ring][draft.corner.index];
    this.put([nearestCopy(x, old[0], state.frame.period), y]);
    if (point.type === "touch") this.loupe.show(state.frame, [x, y], point.screen);
  }

  lift(point, moved) {
    this.loupe.hide();
    if (moved) this.saved(this.outline(), state.draft.rings, "move a corner");
  }

  put(point) {
    const { draft } = state;
    const rings = draft.rings.map((ring, r) => (r === draft.corner.ring ? ring.map((old, i) => (i === draft.corner.index ? point : old)) : ring));
    set({ draft: { ...draft, rings } });
  }

  hold(outline, rings, corner) {
    set({ draft: { outline: outline.id, rings, corner: { ring: corner.ring, index: corner.index } } });
  }

  tap(point) {
    const outline = this.outline();
    if (outline && state.draft?.moving) {
      this.put(point.picture);
      set({ draft: { ...state.draft, moving: false } });
      this.saved(outline, state.draft.rings, "move a corner");
      return;
    }
    if (outline && this.insert(outline, point)) return;
    super.tap(point);
  }

  /** Puts a corner in on the edge under the point. */
  insert(outline, { picture, type }) {
    const reach = (type === "touch" ? 16 : 8) / state.frame.scale;
    const rings = this.rings(outline);
    for (const [r, ring] of rings.entries()) {
      const p = [nearestCopy(picture[0], ring[0][0], state.frame.period), picture[1]];
      const near = nearestOnLine(ring, p, true);
      if (near.distance > reach) continue;
      const fuller = [...ring.slice(0, near.index + 1), near.point, ...ring.slice(near.index + 1)];
      const next = rings.map((old, i) => (i === r ? fuller : old));
      this.hold(outline, next, { ring: r, index: near.index + 1 });
      this.saved(outline, next, "put in a corner");
      return true;
    }
    return false;
  }

  erase() {
    const outline = this.outline();
    const { draft } = state;
    if (!outline || !draft?.corner) return;
    const rings = draft.rings.map((ring, r) => (r === draft.corner.ring ? ring.filter((_, i) => i !== draft.corner.index) : ring));
    if (rings.some((ring) => ring.length < 3)) return;
    set({ draft: { outline: outline.id, rings, corner: null } });
    this.saved(outline, rings, "take a corner away");
  }

  /** Arrow keys move the corner in hand by a pixel of the screen, with shift by a quarter. */
  nudge([dx, dy], fine) {
    const outline = this.outline();
    const { draft } = state;
    if (!outline || !draft?.corner) return false;
    const step = (fine ? 0.25 : 1) / state.frame.scale;
    const [x, y] = draft.rings[draft.corner.ring][draft.corner.index];
    this.put([x + dx * step, y + dy * step]);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.saved(outline, state.draft.rings, "move a corner"), 500);
    return true;
  }

  /** Takes the next or the previous corner in hand. */
  step(by) {
    const outline = this.outline();
    if (!outline) return;
    const rings = this.rings(outline);
    const corner = state.draft?.outline === outline.id ? state.draft.corner : null;
    const count = rings[0].length;
    const index = corner ? (corner.index + by + count) % count : 0;
    this.hold(outline, rings, { ring: 0, index });
    this.gestures.bring(rings[0][index]);
  }

  cancel() {
    this.loupe.hide();
    set({ draft: null });
    super.cancel();
  }

  disable() {
    this.loupe.hide();
  }
}
