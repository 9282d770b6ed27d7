// From pointers, wheel and keys to gestures: pan, pinch, tap, and drags that a tool claims. A tool
// is a small object: disable, and any of claims(point, kind), press, move, lift, tap,
// cancel, twice, erase; points are {screen: [x, y], picture: [x, y]}.

import { bounds, centreOn, centreX, centreY, distance, moveBy, scaleLimits, toPicture, zoomAt } from "../geometry.js";
import { set, sheet, state } from "../state/store.js";

const SLACK_PX = 5;
const STEP_PX = 60;

export class Gestures {
  constructor(surface, plate, readCursor) {
    Object.assign(this, { surface, plate, readCursor });
    this.down = new Map();
    this.tool = null;
    this.claimed = false;
    this.moved = false;
    surface.addEventListener("pointerdown", (event) => this.press(event));
    surface.addEventListener("pointermove", (event) => this.move(event));
    surface.addEventListener("pointerup", (event) => this.lift(event));
    surface.addEventListener("pointercancel", (event) => this.lose(event));
    surface.addEventListener("pointerleave", () => this.down.size || set({ hover: null }));
    surface.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    surface.addEventListener("dblclick", () => this.tool?.twice?.());
    surface.addEventListener("keydown", (event) => this.key(event));
    surface.addEventListener("blur", () => set({ cursor: null }));
    surface.addEventListener("contextmenu", (event) => event.preventDefault());
  }

  use(tool) {
    if (this.tool === tool) return;
    this.tool?.disable?.();
    this.tool = tool;
    // What the old tool claimed is no gesture of the new one.
    if (this.claimed) [this.claimed, this.moved] = [false, true];
  }

  at(event) {
    const box = this.surface.getBoundingClientRect();
    const screen = [event.clientX - box.left, event.clientY - box.top];
    return { screen, picture: state.frame ? toPicture(state.frame, screen) : null, type: event.pointerType };
  }

  press(event) {
    if (!state.frame || event.button > 1) return;
    try {
      this.surface.setPointerCapture(event.pointerId);
    } catch {
      // a pointer that is already gone cannot be captured; its gesture ends by itself
    }
    const point = this.at(event);
    this.down.set(event.pointerId, point);
    if (this.down.size === 2) {
      if (this.claimed) this.tool?.cancel?.();
      this.claimed = false;
      this.moved = true;
      return;
    }
    if (this.down.size > 2) return;
    this.moved = false;
    this.start = point;
    this.claimed = event.button === 0 && !event.shiftKey && Boolean(this.tool?.claims?.(point));
    set({ cursor: null });
    if (this.claimed) this.tool.press?.(point);
  }

  move(event) {
    if (!state.frame) return;
    const point = this.at(event);
    const before = this.down.get(event.pointerId);
    if (!before) {
      set({ hover: point.picture });
      this.tool?.hover?.(point);
      return;
    }
    if (this.down.size === 2) {
      this.pinch(event.pointerId, before, point);
    } else if (this.claimed) {
      if (distance(point.screen, this.start.screen) > SLACK_PX) this.moved = true;
      this.tool.move?.(point);
      set({ hover: point.picture });
    } else if (this.moved || distance(point.screen, this.start.screen) > SLACK_PX) {
      this.moved = true;
      this.surface.classList.add("held");
      const [dx, dy] = [point.screen[0] - before.screen[0], point.screen[1] - before.screen[1]];
      set({ frame: { ...moveBy(state.frame, sheet(), dx, dy), first: false } });
    } else return;
    this.down.set(event.pointerId, this.at(event));
  }

  pinch(id, before, point) {
    const [, other] = [...this.down.entries()].find(([key]) => key !== id);
    const factor = distance(point.screen, other.screen) / Math.max(8, distance(before.screen, other.screen));
    const middle = [0, 1].map((i) => (point.screen[i] + other.screen[i]) / 2);
    const was = [0, 1].map((i) => (before.screen[i] + other.screen[i]) / 2);
    const moved = moveBy(state.frame, sheet(), middle[0] - was[0], middle[1] - was[1]);
    set({ frame: { ...zoomAt(moved, sheet(), middle, factor), first: false } });
  }

  lift(event) {
    if (!this.down.has(event.pointerId)) return;
    const point = this.at(event);
    this.down.delete(event.pointerId);
    this.surface.classList.remove("held");
    if (this.down.size) return;
    if (this.claimed) this.tool.lift?.(point, this.moved);
    else if (!this.moved) this.tool?.tap?.(point);
    this.claimed = false;
    if (event.pointerType === "touch") set({ hover: null });
  }

  lose(event) {
    this.down.delete(event.pointerId);
    this.surface.classList.remove("held");
    if (this.claimed) this.tool?.cancel?.();
    this.claimed = false;
  }

  wheel(event) {
    if (!state.frame) return;
    event.preventDefault();
    const unit = event.deltaMode === 1 ? 16 : 1;
    if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      const across = (event.deltaX || event.deltaY) * unit;
      set({ frame: { ...moveBy(state.frame, sheet(), -across, 0), first: false } });
      return;
    }
    const factor = Math.exp((-event.deltaY * unit) / (event.ctrlKey ? 120 : 400));
    set({ frame: { ...zoomAt(state.frame, sheet(), this.at(event).screen, factor), first: false } });
  }

  // --- keys: arrows move the picture, or the crosshair while a tool is in hand -------------------

  key(event) {
    if (!state.frame || event.ctrlKey || event.metaKey || event.altKey) return;
    const middle = [state.frame.width / 2, state.frame.height / 2];
    const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    const acts = {
      "+": () => this.zoom(1.25, middle),
      "=": () => this.zoom(1.25, middle),
      "-": () => this.zoom(0.8, middle),
      0: () => this.whole(),
      n: () => this.north(),
      Enter: () => this.tapCursor(),
      " ": () => this.tapCursor(),
      Escape: () => this.escape(),
      Delete: () => this.tool?.erase?.(),
      Backspace: () => this.tool?.erase?.(),
    };
    if (arrows[event.key]) this.arrow(arrows[event.key], event.shiftKey);
    else if (acts[event.key]) acts[event.key]();
    else return;
    event.preventDefault();
  }

  arrow([dx, dy], fine) {
    const aiming = state.tool !== "look" && state.step === "mark";
    if (this.tool?.nudge?.([dx, dy], fine)) return;
    if (!aiming) {
      const step = fine ? STEP_PX / 6 : STEP_PX;
      set({ frame: moveBy(state.frame, sheet(), -dx * step, -dy * step) });
      return;
    }
    const step = (fine ? 1 : 12) / state.frame.scale;
    const from = state.cursor ?? [centreX(state.frame), centreY(state.frame)];
    const cursor = [from[0] + dx * step, from[1] + dy * step];
    set({ cursor, hover: cursor });
    const [x, y] = [(cursor[0] - state.frame.left) * state.frame.scale, (cursor[1] - state.frame.top) * state.frame.scale];
    if (x < 30 || y < 30 || x > state.frame.width - 30 || y > state.frame.height - 30) {
      set({ frame: centreOn(state.frame, sheet(), cursor) });
    }
  }

  tapCursor() {
    const picture = state.cursor ?? (state.tool === "look" ? null : [centreX(state.frame), centreY(state.frame)]);
    if (!picture) return;
    set({ cursor: picture });
    const screen = [(picture[0] - state.frame.left) * state.frame.scale, (picture[1] - state.frame.top) * state.frame.scale];
    this.tool?.tap?.({ picture, screen, type: "key" });
  }

  escape() {
    this.tool?.cancel?.();
    set({ cursor: null });
  }

  zoom(factor, at = [state.frame.width / 2, state.frame.height / 2]) {
    set({ frame: { ...zoomAt(state.frame, sheet(), at, factor), first: false } });
  }

  whole() {
    const [low] = scaleLimits(state.frame, sheet());
    set({ frame: { ...centreOn(state.frame, sheet(), [sheet().width / 2, sheet().height / 2], low), first: false } });
  }

  north() {
    this.bring(this.plate.bring(0));
  }

  /** Brings points into view, closer where they would be small. */
  show(points) {
    if (!state.frame || !points.length) return;
    const [left, top, right, bottom] = bounds(points);
    const fits = Math.min((0.5 * state.frame.width) / (right - left + 1), (0.5 * state.frame.height) / (bottom - top + 1));
    const scale = points.length > 2 ? Math.max(state.frame.scale, Math.min(fits, 1)) : state.frame.scale;
    set({ frame: { ...centreOn(state.frame, sheet(), [(left + right) / 2, (top + bottom) / 2], scale), first: false } });
  }

  /** Puts a picture point into the middle of the plate. */
  bring(point) {
    if (point && state.frame) set({ frame: { ...centreOn(state.frame, sheet(), point), first: false } });
  }
}
