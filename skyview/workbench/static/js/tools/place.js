// Placing the points of a mark: one tap, or two for what is a line. By thumb the loupe shows what
// lies beneath; lifting places it.

import { set, state } from "../state/store.js";

export class Place {
  constructor(loupe, placed) {
    Object.assign(this, { loupe, placed });
  }

  /** A finger places with the loupe; a mouse clicks, and drags the picture. */
  claims({ type }) {
    return type === "touch" || type === "pen";
  }

  press(point) {
    this.move(point);
  }

  move({ picture, screen }) {
    this.loupe.show(state.frame, picture, screen);
    const points = state.draft?.points ?? [];
    const kept = this.holding ? points.slice(0, -1) : points;
    this.holding = true;
    set({ draft: { ...state.draft, points: [...kept, picture] } });
    this.placed(false);
  }

  lift({ picture }) {
    this.loupe.hide();
    const points = state.draft?.points ?? [];
    this.holding = false;
    set({ draft: { ...state.draft, points: [...points.slice(0, -1), picture] } });
    this.placed(true);
  }

  tap({ picture }) {
    const most = state.draft?.need ?? 1;
    const points = state.draft?.points ?? [];
    const kept = points.length >= most ? [] : points;
    set({ draft: { ...state.draft, points: [...kept, picture] } });
    this.placed(true);
  }

  erase() {
    set({ draft: { ...state.draft, points: (state.draft?.points ?? []).slice(0, -1) } });
    this.placed(false);
  }

  cancel() {
    this.loupe.hide();
    if (this.holding) set({ draft: { ...state.draft, points: (state.draft?.points ?? []).slice(0, -1) } });
    this.holding = false;
  }

  disable() {
    this.loupe.hide();
    this.holding = false;
    set({ trial: null });
  }
}
