// The mast's staff: dragged, clicked, or moved by keys; the words follow from the table of heights.

import { clamp, nearestIndex } from "../geometry.js";
import { s, text } from "../draw/svg.js";
import { topHeight } from "../state/loads.js";
import { antennaOfSpot, heightsNow, items, limits, on, refusedHere, set, state } from "../state/store.js";
import { wordOf } from "../draw/stations.js";
import { button, fill, h } from "./dom.js";
import { change } from "../state/changes.js";
import { guyWires, number } from "./words.js";

const STEP_M = 0.25;
const LABEL_GAP_PX = 42;

export class Mast {
  constructor(place) {
    this.place = place;
    this.wide = matchMedia("(min-width: 641px)");
    this.staff = s("svg", { class: "staff", "aria-hidden": "true" });
    this.slider = h("div", { class: "slider", role: "slider", tabindex: "0", "aria-label": "Height of the antenna above the spot", "aria-valuemin": "0" }, this.staff);
    this.slider.addEventListener("pointerdown", (event) => this.grab(event));
    this.slider.addEventListener("pointermove", (event) => this.held && this.follow(event));
    this.slider.addEventListener("pointerup", () => this.release());
    this.slider.addEventListener("pointercancel", () => this.release());
    this.slider.addEventListener("keydown", (event) => this.key(event));
    this.head = h("p", { class: "mast-head" });
    this.foot = h("div", { class: "mast-foot" });
    place.append(this.head, button("−", () => this.step(-1), { class: "lift-down", "aria-label": "Lower the antenna" }), this.slider, button("+", () => this.step(1), { class: "lift-up", "aria-label": "Raise the antenna" }), this.foot);
    on("height heights survey spot step station ready", () => this.draw());
    this.wide.addEventListener("change", () => this.draw());
    new ResizeObserver(() => this.draw()).observe(place);
  }

  get top() {
    return heightsNow()?.heights_m.at(-1) ?? topHeight();
  }

  /** Margin at each end of the staff. [px] */
  ends() {
    const box = this.slider.getBoundingClientRect();
    return this.wide.matches ? { from: box.height - 14, to: 14 } : { from: 14, to: box.width - 14 };
  }

  at(height) {
    const { from, to } = this.ends();
    return from + ((to - from) * height) / this.top;
  }

  grab(event) {
    this.slider.setPointerCapture(event.pointerId);
    this.held = true;
    this.follow(event);
  }

  follow(event) {
    const box = this.slider.getBoundingClientRect();
    const along = this.wide.matches ? event.clientY - box.top : event.clientX - box.left;
    const { from, to } = this.ends();
    const height = clamp(((along - from) / (to - from)) * this.top, 0, this.top);
    set({ height: Math.round(height * 50) / 50 });
  }

  /** The hand lets go: the antenna stands at the nearest height of the table. */
  release() {
    if (!this.held) return;
    this.held = false;
    const steps = heightsNow()?.heights_m;
    set({ height: steps ? steps[nearestIndex(steps, state.height)] : Math.round(state.height / STEP_M) * STEP_M });
  }

  step(by) {
    set({ height: clamp((Math.round(state.height / STEP_M) + by) * STEP_M, 0, this.top) });
  }

  key(event) {
    const steps = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 4, PageDown: -4 };
    if (event.key in steps) this.step(steps[event.key]);
    else if (event.key === "Home") set({ height: 0 });
    else if (event.key === "End") set({ height: this.top });
    else return;
    event.preventDefault();
  }

  draw() {
    const ready = state.open && items("spots").length > 0;
    this.place.hidden = !ready;
    if (!ready) return;
    const limit = limits().unguyed_mast_m ?? 3;
    fill(this.head, "Antenna ", h("b", {}, `${number(state.height, state.height % 0.5 ? 2 : 1)}\u00a0m`));
    this.slider.setAttribute("aria-valuenow", String(state.height));
    this.slider.setAttribute("aria-valuemax", String(this.top));
    this.slider.setAttribute("aria-valuetext", `${number(state.height, 2)} metres`);
    const antenna = antennaOfSpot();
    const keep = antenna && Math.abs((antenna.height_m ?? -1) - state.height) > 0.01 && state.step === "answer";
    fill(
      this.foot,
      refusedHere() ? h("span", { class: "over" }, "Refused here") : h("span", { class: state.height > limit ? "over" : "" }, guyWires(limit)),
      keep ? button("Keep this height", () => change(`raise ${antenna.id} to ${number(state.height, 2)} m`, [{ do: "patch", list: "antennas", id: antenna.id, fields: { height_m: state.height } }], { place: "mast" }), { class: "quiet" }) : null,
      state.troubles.mast ? h("span", { class: "trouble", role: "alert" }, state.troubles.mast) : null,
    );
    this.drawStaff(limit);
  }

  drawStaff(limit) {
    const box = this.slider.getBoundingClientRect();
    if (!box.width || !box.height) return;
    this.staff.setAttribute("viewBox", `0 0 ${box.width} ${box.height}`);
    this.staff.replaceChildren(...(this.wide.matches ? this.upright(limit) : this.lying(limit, box.height)));
  }

  upright(limit) {
    const x = 13;
    const parts = [s("path", { d: `M${x} ${this.at(this.top)}V${this.at(limit)}`, class: "staff-dotted" }), s("path", { d: `M${x} ${this.at(Math.min(limit, this.top))}V${this.at(0)}`, class: "staff-line" })];
    for (let height = 0; height <= this.top; height += 0.5) {
      const whole = height % 1 === 0;
      parts.push(s("path", { d: `M${x + 8} ${this.at(height)}h${whole ? 7 : 4}`, class: "line" }));
      if (whole) parts.push(text(x + 20, this.at(height) + 4.5, `${height}`, { class: "small" }));
    }
    parts.push(...this.turns(x));
    const y = this.at(state.height);
    parts.push(s("circle", { cx: x, cy: y, r: 12, class: "knob" }), s("path", { d: `M${x - 4} ${y - 3}h8M${x - 4} ${y + 3}h8`, class: "line" }));
    return parts;
  }

  /** Where words change: the chosen station's first, then must-haves, as far as there is room. */
  turns(x) {
    const rank = (turn) => (turn.station === state.station ? 0 : items("stations").find((one) => one.id === turn.station)?.must_have ? 1 : 2);
    const taken = [];
    const parts = [];
    for (const turn of [...(heightsNow()?.changes ?? [])].sort((a, b) => rank(a) - rank(b))) {
      const y = this.at(turn.height_m);
      if (taken.some((other) => Math.abs(other - y) < LABEL_GAP_PX) || taken.length > 5) continue;
      taken.push(y);
      parts.push(s("path", { d: `M${x + 30} ${y}h8`, class: "line turn" }));
      const words = wordOf(turn.to).split(" ");
      parts.push(text(x + 40, y - 2, turn.station, { class: "turn-call" }), ...words.map((word, i) => text(x + 40, y + 11 + 12 * i, word, { class: "turn-word" })));
    }
    return parts;
  }

  lying(limit, high) {
    const y = high / 2 - 2;
    const parts = [s("path", { d: `M${this.at(limit)} ${y}H${this.at(this.top)}`, class: "staff-dotted" }), s("path", { d: `M${this.at(0)} ${y}H${this.at(Math.min(limit, this.top))}`, class: "staff-line" })];
    for (let height = 0; height <= this.top; height += 1) parts.push(s("path", { d: `M${this.at(height)} ${y + 11}v6`, class: "line" }));
    for (const turn of heightsNow()?.changes ?? []) {
      if (turn.station === state.station) parts.push(s("path", { d: `M${this.at(turn.height_m)} ${y - 16}v10`, class: "line turn" }));
    }
    parts.push(s("circle", { cx: this.at(state.height), cy: y, r: 14, class: "knob" }));
    return parts;
  }
}
