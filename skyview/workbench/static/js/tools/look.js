// The open hand: a tap chooses what lies under it; the picture is moved by dragging.

import { distance, inRing, nearestCopy, nearestOnLine, toScreen } from "../geometry.js";
import { hitStation } from "../draw/stations.js";
import { touches } from "../draw/svg.js";
import { marksOfView, outlinesOfView, set, state } from "../state/store.js";

const REACH_PX = 22;

export class Look {
  constructor(plate, gestures) {
    Object.assign(this, { plate, gestures });
  }

  tap({ screen, picture }) {
    const [x, y] = screen;
    const chip = this.plate.chips.find((one) => touches(one.box, [x, y, x, y]));
    if (chip) {
      this.bringStation(chip.station);
      return;
    }
    if (state.step === "answer") {
      const station = hitStation(this.plate.targets, screen);
      if (station) set({ station });
      return;
    }
    if (state.step !== "mark") return;
    const mark = hitMark(screen);
    const outline = mark ? null : hitOutline(picture);
    set({ picked: mark ? { list: "marks", id: mark.id } : outline ? { list: "outlines", id: outline.id } : null });
  }

  bringStation(id) {
    const row = state.paths?.rows?.find((one) => one.station === id);
    set({ station: id });
    if (!row) return;
    const point = row.place && row.place.inside !== false ? [row.place.x_px, row.place.y_px] : this.plate.bring(row.bearing_deg, row.arrival_elevation_deg);
    this.gestures.bring(point);
  }

  cancel() {
    set({ picked: null });
  }
}

export function hitMark(screen) {
  const near = marksOfView()
    .map((mark) => ({ mark, far: Math.min(...mark.points_px.map((point) => distance(toScreen(state.frame, point), screen))) }))
    .sort((a, b) => a.far - b.far)[0];
  return near && near.far < REACH_PX ? near.mark : null;
}

/** The outline whose edge is near the point or, failing that, the smallest one around it. */
export function hitOutline(point) {
  const reach = 12 / state.frame.scale;
  const { period } = state.frame;
  let best = null;
  for (const outline of outlinesOfView()) {
    const ring = outline.rings_px[0];
    const p = [nearestCopy(point[0], ring[0][0], period), point[1]];
    const edge = nearestOnLine(ring, p, true).distance;
    const size = Math.abs(area(ring));
    const rank = edge < reach ? edge : inRing(ring, p) ? reach + size : Infinity;
    if (rank < (best?.rank ?? Infinity)) best = { outline, rank };
  }
  return best?.outline ?? null;
}

const area = (ring) => ring.reduce((sum, [x, y], i) => {
  const [nx, ny] = ring[(i + 1) % ring.length];
  return sum + x * ny - nx * y;
}, 0) / 2;
