// Turning the antenna: its pointer is dragged along the border or the pattern beneath it.

import { azimuthAtX } from "../draw/border.js";
import { antennaOfSpot, set, state } from "../state/store.js";

export class Aim {
  constructor(surfaces, turned, brought) {
    this.turned = turned;
    for (const surface of surfaces) {
      surface.addEventListener("pointerdown", (event) => {
        if (!state.angles || !state.frame) return;
        if (state.step !== "answer" || !antennaOfSpot()) {
          brought(this.azimuth(surface, event));
          return;
        }
        surface.setPointerCapture(event.pointerId);
        this.held = true;
        this.follow(surface, event);
      });
      surface.addEventListener("pointermove", (event) => this.held && this.follow(surface, event));
      surface.addEventListener("pointerup", () => this.end());
      surface.addEventListener("pointercancel", () => this.end());
    }
  }

  azimuth(surface, event) {
    return azimuthAtX(state.frame, state.angles, event.clientX - surface.getBoundingClientRect().left);
  }

  follow(surface, event) {
    const azimuth = this.azimuth(surface, event);
    if (azimuth !== null) set({ aim: Math.round(azimuth) % 360 });
  }

  end() {
    if (!this.held) return;
    this.held = false;
    if (state.aim !== null) this.turned(state.aim);
  }
}
